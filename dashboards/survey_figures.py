"""Figures of a survey as text in the reader's units, with their ranges."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

import msgspec

from analytics.quantities import ALKALINITY, CAPACITY, HARDNESS, Quantity
from analytics.samples import Spread
from analytics.survey.window import Band
from dashboards.phrases.numbers import (
    EN_DASH,
    THIN,
    decimal_text,
    range_text,
    signed_text,
    step_for,
)
from dashboards.phrases.reader import Reader
from dashboards.survey_words import hardness_words

CHOICES: Final = {
    "dH": "dH",
    "fH": "fH",
    "e": "e",
    "gpg": "gpg",
    "mg/L": "mg/L CaCO3",
    "mmol/L": "mmol/L",
}
"""Units a reader may choose, with the unit of hardness and alkalinity each stands for."""
CAPACITIES: Final = {"fH": "fH*L", "gpg": "gr", "mmol/L": "mmol"}
"""Unit of capacity that goes with a unit of hardness; degrees dH times litres with the others."""
LEAST: Final = {"hardness": 0.6, "ph": 0.2, "si": 0.2}
"""Widths below which a range says more than the model knows."""

One = Callable[[float], str]


class Shown(msgspec.Struct, frozen=True, kw_only=True):
    """Writes figures in one reader's language and units."""

    reader: Reader

    def hard(self, figure: Spread) -> str:
        """A hardness with its range."""
        return self._ranged(figure, HARDNESS)

    def alk(self, figure: Spread) -> str:
        """An alkalinity with its range."""
        return self._ranged(figure, ALKALINITY)

    def hard_band(self, band: Band) -> str:
        """A window of hardness."""
        return self._band(band, HARDNESS)

    def alk_band(self, band: Band) -> str:
        """A window of alkalinity."""
        return self._band(band, ALKALINITY)

    def capacity(self, mmol: float) -> str:
        """A capacity, to three figures."""
        unit = CAPACITY.unit(CAPACITIES.get(self.reader.hardness_unit, "dH*L"))
        return f"{self.figures(CAPACITY.from_base(mmol, unit.name))}{THIN}{unit.sign}"

    def capacity_ends(self, figure: Spread) -> tuple[str, str]:
        """The 5 and 95 % points of a capacity, without unit."""
        unit = CAPACITY.unit(CAPACITIES.get(self.reader.hardness_unit, "dH*L"))
        low, high = (CAPACITY.from_base(v, unit.name) for v in (figure.p05, figure.p95))
        return self.figures(low), self.figures(high)

    def removed(self, mmol_l: float) -> str:
        """A hardness without range."""
        return hardness_words(mmol_l, self.reader)

    def figures(self, value: float) -> str:
        """A number to three figures, thousands set apart."""
        step = 1.0
        while abs(value) >= 1000 * step:
            step *= 10
        if abs(value) < 10:
            step = 0.1
        return decimal_text(value, step, self.reader.language.numbers)

    def fixed(self, value: float, digits: int) -> str:
        """A number with so many digits behind the point."""
        return decimal_text(value, 10.0**-digits, self.reader.language.numbers)

    def percent(self, share: float, digits: int = 0) -> str:
        """A share in per cent."""
        return f"{self.fixed(100 * share, digits)}{THIN}%"

    def ranged(self, figure: Spread, unit: str = "", *, least: float = 0.0) -> str:
        """A figure with its range: "6.2 mg/L (5.9-6.5)"."""
        form = self.reader.language.numbers
        wide = max(least, 0.02 * abs(figure.p50), 1e-3)
        step = step_for(max(figure.p95 - figure.p05, wide))
        points = (figure.p50, figure.p05, figure.p95)
        said, low, high = (decimal_text(v, step, form) for v in points)
        value = f"{said}{THIN}{unit}" if unit else said
        return value if low == high else f"{value} ({range_text(low, high, form)})"

    def signed(self, figure: Spread) -> str:
        """A saturation index with its range and sign."""
        low, high = self.signed_one(figure.p05), self.signed_one(figure.p95)
        word = self.reader.language.numbers.range_word
        return f"{self.signed_one(figure.p50)} ({low} {word} {high})"

    def signed_one(self, value: float) -> str:
        """A saturation index alone."""
        return signed_text(value, 0.1, self.reader.language.numbers)

    def band(self, band: Band, one: One, unit: str = "") -> str:
        """A window in words: "2.8-9.8 dH", "up to 200 mg/L"."""
        say, tail = self.reader.say, f"{THIN}{unit}" if unit else ""
        if band.low is None and band.high is None:
            return EN_DASH
        if band.high is None:
            return say("report.from", low=f"{one(band.floor)}{tail}")
        if not band.low:
            return say("report.up-to", high=f"{one(band.high)}{tail}")
        return f"{one(band.low)}{EN_DASH}{one(band.high)}{tail}"

    def _ranged(self, figure: Spread, quantity: Quantity) -> str:
        unit = self.reader.hardness_unit
        ends = {n: quantity.from_base(getattr(figure, n), unit) for n in ("p05", "p50", "p95")}
        least = LEAST["hardness"] * quantity.from_base(1.0, unit) / quantity.from_base(1.0, "dH")
        return self.ranged(Spread(**ends), quantity.unit(unit).sign, least=least)

    def _band(self, band: Band, quantity: Quantity) -> str:
        found = quantity.unit(self.reader.hardness_unit)

        def one(value: float) -> str:
            return self.fixed(quantity.from_base(value, found.name), found.digits)

        return self.band(band, one, found.sign)
