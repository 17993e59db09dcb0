"""One reader: language and units; every figure of a page is written through it."""

from __future__ import annotations

import math
from string import Formatter

import msgspec

from analytics.quantities import CONDUCTIVITY, FLOW, HARDNESS, TEMPERATURE, VOLUME, Quantity
from analytics.samples import Spread
from dashboards.phrases.language import Language
from dashboards.phrases.numbers import THIN, Written, percent, written

COUNT_SPREAD = 0.05
"""A flow meter's count is written as if good to this part of itself (K-factor spread of 3 %)."""

HARDNESS_UNITS = ("dH", "fH", "e", "gpg", "mg/L CaCO3", "mmol/L")


class Piece(msgspec.Struct, frozen=True):
    """A stretch of a sentence; `kind` is "" (plain), "sum", "range" or "hold" (do not break)."""

    text: str
    kind: str = ""


class Figure(msgspec.Struct, frozen=True, kw_only=True):
    """A figure in the reader's unit, written: without unit and range it cannot be made."""

    value: str
    unit: str
    low: str
    high: str
    joined: str

    def __post_init__(self) -> None:
        if not (self.value and self.unit and self.low and self.high):
            raise ValueError("A figure needs value, unit and range.")

    @property
    def text(self) -> str:
        """ "7.0 °dH"."""
        return f"{self.value}{THIN}{self.unit}"

    @property
    def bracketed(self) -> str:
        """ "(6.6-7.5)" with an en dash."""
        return f"({self.joined})"

    @property
    def full(self) -> str:
        """ "7.0 °dH (6.6-7.5)" with an en dash."""
        return f"{self.text} {self.bracketed}"


class Reader(msgspec.Struct, frozen=True, kw_only=True):
    """Who reads: the words and the units figures are written in."""

    language: Language
    hardness_unit: str = "dH"
    temperature_unit: str = "degC"
    volume_unit: str = "L"

    def say(self, key: str, **values: str | int) -> str:
        """The text of this key with its blanks filled."""
        return self.language.texts[key].format(**values)

    def counted(self, key: str, number: int, **values: str | int) -> str:
        """The text of `KEY.one` or `KEY.many`, as the language counts, with its blank `n`."""
        return self.say(f"{key}.{self.language.counted(number)}", n=number, **values)

    def has(self, key: str) -> bool:
        """Whether there is a text of this key."""
        return key in self.language.texts

    def pieces(self, key: str, **values: Piece | str) -> tuple[Piece, ...]:
        """The text of this key as stretches, so that parts of it can be marked."""
        out: list[Piece] = []
        for plain, blank, _, _ in Formatter().parse(self.language.texts[key]):
            if plain:
                out.append(Piece(plain))
            if blank is not None:
                value = values[blank]
                out.append(value if isinstance(value, Piece) else Piece(value))
        return tuple(out)

    def figure(self, quantity: Quantity, unit_name: str, spread: Spread) -> Figure:
        """A spread in the quantity's base unit, written in the unit of this name.

        Raises ModelError where the spread is upside down or not finite.
        """
        unit = quantity.unit(unit_name)
        p50, p05, p95 = (
            quantity.from_base(v, unit.name) for v in (spread.p50, spread.p05, spread.p95)
        )
        text = written(
            p50,
            p05,
            p95,
            self.language.numbers,
            litres=quantity is VOLUME,
            last_step=10.0**-unit.digits,
        )
        return Figure(
            value=text.value, unit=unit.sign, low=text.low, high=text.high, joined=text.joined
        )

    def hardness(self, spread: Spread) -> Figure:
        """Hardness given in mmol/L."""
        return self.figure(HARDNESS, self.hardness_unit, spread)

    def hardness_set(self, mmol_l: float) -> str:
        """A set hardness, in three figures at most and without a range."""
        value = HARDNESS.from_base(mmol_l, self.hardness_unit)
        digits = max(0, 2 - math.floor(math.log10(max(value, 0.01))))
        text = f"{value:.{digits}f}"
        return self.decimal(text.rstrip("0").rstrip(".") if digits else text)

    @property
    def hardness_sign(self) -> str:
        """ "°dH"."""
        return HARDNESS.unit(self.hardness_unit).sign

    def decimal(self, plain: str) -> str:
        """A bare figure ("7.0") with this language's decimal sign."""
        return plain.replace(".", self.language.numbers.decimal)

    def temperature(self, spread: Spread) -> Figure:
        """Temperature given in degrees Celsius."""
        return self.figure(TEMPERATURE, self.temperature_unit, spread)

    def degrees(self, celsius: float) -> str:
        """A set temperature in whole degrees, without a range."""
        unit = TEMPERATURE.unit(self.temperature_unit)
        return f"{TEMPERATURE.from_base(celsius, unit.name):.0f}{THIN}{unit.sign}"

    def volume(self, spread: Spread) -> Figure:
        """Volume given in litres."""
        return self.figure(VOLUME, self.volume_unit, spread)

    def volume_words(self, figure: Figure) -> str:
        """ "1 240 litres"."""
        key = "unit.litres" if self.volume_unit == "L" else "unit.gallons"
        return self.say(key, n=figure.value)

    def days(self, spread: Spread) -> Written:
        """Days left, without a unit."""
        return written(
            spread.p50, spread.p05, spread.p95, self.language.numbers, litres=True, last_step=1.0
        )

    def passed(self, litres: float) -> str:
        """Litres counted since the cartridge was fitted, to three figures, as "1 830 L"."""
        spread = litres * COUNT_SPREAD
        return self.volume(Spread(p50=litres, p05=litres - spread, p95=litres + spread)).text

    def conductivity(self, spread: Spread) -> Figure:
        """Conductivity at 25 degrees Celsius given in uS/cm."""
        return self.figure(CONDUCTIVITY, "uS/cm", spread)

    def flow(self, spread: Spread) -> Figure:
        """Flow given in litres a minute."""
        return self.figure(FLOW, "L/min" if self.volume_unit == "L" else "gpm", spread)

    def share(self, share: float) -> str:
        """A part of a whole in whole per cent, 0 to 100."""
        return f"{min(max(round(share * 100), 0), 100)}{THIN}%"

    def chance(self, chance: float) -> str:
        """A chance in per cent, never 0 or 100."""
        return percent(chance)

    def count_word(self, number: int) -> str:
        """ "twelve", or the digits where the language has no short word."""
        words = self.language.small_numbers
        return words[number] if 0 <= number < len(words) else str(number)
