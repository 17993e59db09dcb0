"""Figures of a survey as text in the reader's units, with their ranges."""

from __future__ import annotations

from typing import Final

import msgspec

from analytics.quantities import ALKALINITY, CAPACITY, HARDNESS, Quantity
from analytics.samples import Spread
from analytics.survey.window import Band
from analytics.survey.words import Units
from dashboards.phrases.numbers import (
    EN_DASH,
    MINUS,
    THIN,
    NumberForm,
    decimal_text,
    range_text,
    step_for,
)

FORM: Final = NumberForm()
CHOICES: Final = {
    "dH": Units(hardness="dH", alkalinity="dH"),
    "fH": Units(hardness="fH", alkalinity="fH"),
    "e": Units(hardness="e", alkalinity="e"),
    "gpg": Units(hardness="gpg", alkalinity="gpg"),
    "mg/L": Units(hardness="mg/L CaCO3", alkalinity="mg/L CaCO3"),
    "mmol/L": Units(hardness="mmol/L", alkalinity="mmol/L"),
}
"""Units a reader may choose."""
CAPACITIES: Final = {"fH": "fH*L", "gpg": "gr", "mmol/L": "mmol"}
"""Unit of capacity that goes with a unit of hardness; degrees dH times litres with the others."""
LEAST: Final = {"hardness": 0.6, "ph": 0.2, "si": 0.2}
"""Widths below which a range says more than the model knows."""


class Shown(msgspec.Struct, frozen=True, kw_only=True):
    """Writes figures in one reader's units."""

    units: Units

    def hard(self, figure: Spread) -> str:
        """A hardness with its range."""
        return _ranged(figure, HARDNESS, self.units.hardness)

    def alk(self, figure: Spread) -> str:
        """An alkalinity with its range."""
        return _ranged(figure, ALKALINITY, self.units.alkalinity)

    def hard_band(self, band: Band) -> str:
        """A window of hardness."""
        return _band(band, HARDNESS, self.units.hardness)

    def alk_band(self, band: Band) -> str:
        """A window of alkalinity."""
        return _band(band, ALKALINITY, self.units.alkalinity)

    def capacity(self, mmol: float) -> str:
        """A capacity, to three figures."""
        unit = CAPACITY.unit(CAPACITIES.get(self.units.hardness, "dH*L"))
        return f"{figures(CAPACITY.from_base(mmol, unit.name))}{THIN}{unit.sign}"

    def capacity_range(self, figure: Spread) -> str:
        """The 5 and 95 % points of a capacity."""
        unit = CAPACITY.unit(CAPACITIES.get(self.units.hardness, "dH*L"))
        ends = (figures(CAPACITY.from_base(v, unit.name)) for v in (figure.p05, figure.p95))
        return " to ".join(ends)

    def removed(self, mmol_l: float) -> str:
        """A hardness without range."""
        return thin(self.units.hard(mmol_l))


def thin(text: str) -> str:
    """The text with a thin space between number and unit."""
    number, _, unit = text.partition(" ")
    return f"{number}{THIN}{unit}"


def figures(value: float) -> str:
    """A number to three figures, thousands set apart."""
    step = 1.0
    while abs(value) >= 1000 * step:
        step *= 10
    if abs(value) < 10:
        step = 0.1
    return decimal_text(value, step, FORM)


def ranged(figure: Spread, unit: str = "", *, least: float = 0.0) -> str:
    """A figure with its range: "6.2 mg/L (5.9-6.5)"."""
    wide = max(least, 0.02 * abs(figure.p50), 1e-3)
    step = step_for(max(figure.p95 - figure.p05, wide))
    said, low, high = (decimal_text(v, step, FORM) for v in (figure.p50, figure.p05, figure.p95))
    value = f"{said}{THIN}{unit}" if unit else said
    return value if low == high else f"{value} ({range_text(low, high, FORM)})"


def signed(figure: Spread) -> str:
    """A saturation index with its range and sign."""
    plus = "" if f"{figure.p50:.1f}".startswith("-") else "+"
    return (plus + f"{figure.p50:.1f} ({figure.p05:+.1f} to {figure.p95:+.1f})").replace("-", MINUS)


def signed_one(value: float) -> str:
    """A saturation index alone."""
    return f"{value:+.1f}".replace("-", MINUS)


def _ranged(figure: Spread, quantity: Quantity, unit: str) -> str:
    found = quantity.unit(unit)
    ends = {n: quantity.from_base(getattr(figure, n), unit) for n in ("p05", "p50", "p95")}
    least = LEAST["hardness"] * quantity.from_base(1.0, unit) / quantity.from_base(1.0, "dH")
    return ranged(Spread(**ends), found.sign, least=least)


def _band(band: Band, quantity: Quantity, unit: str) -> str:
    found = quantity.unit(unit)

    def one(value: float) -> str:
        return f"{quantity.from_base(value, unit):.{found.digits}f}"

    return band_text(band, one, found.sign)


def band_text(band: Band, one: object, unit: str = "") -> str:
    """A window in words: "2.8-9.8 dH", "up to 200 mg/L"."""
    write = one if callable(one) else str
    tail = f"{THIN}{unit}" if unit else ""
    if band.low is None and band.high is None:
        return "–"
    if band.high is None:
        return f"from {write(band.low)}{tail}"
    if band.low is None or band.low == 0:
        return f"up to {write(band.high)}{tail}"
    return f"{write(band.low)}{EN_DASH}{write(band.high)}{tail}"
