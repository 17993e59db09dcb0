"""Figures of a fitting in the reader's units: measured ones with their limits, no false digits."""

from __future__ import annotations

import msgspec

from analytics.quantities import ALKALINITY, CONDUCTIVITY, HARDNESS, TEMPERATURE, VOLUME, Quantity
from analytics.samples import Spread
from dashboards.phrases.numbers import THIN, decimal_text, range_text
from dashboards.phrases.reader import Reader


class Shown(msgspec.Struct, frozen=True, kw_only=True):
    """Writes figures for one reader."""

    reader: Reader

    def number(self, value: float, digits: int = 0) -> str:
        """A bare number."""
        return decimal_text(value, 10.0**-digits, self.reader.language.numbers)

    def percent(self, share: float, digits: int = 0) -> str:
        """A share in per cent."""
        return f"{self.number(100 * share, digits)}{THIN}%"

    def litres(self, litres: float, digits: int = 1) -> str:
        """A volume in the reader's unit."""
        return self._one(VOLUME, litres, self.reader.volume_unit, digits)

    def temp(self, temp_c: float) -> str:
        """A temperature in the reader's unit; hot ones in whole degrees."""
        digits = 0 if temp_c > 60.0 else 1
        return self._one(TEMPERATURE, temp_c, self.reader.temperature_unit, digits)

    def conductivity(self, us_cm: float) -> str:
        """A conductivity; small ones with a decimal."""
        return self._one(CONDUCTIVITY, us_cm, "uS/cm", 1 if abs(us_cm) < 100 else 0)

    def water(self, kind: str, value: float) -> str:
        """A hardness, calcium or alkalinity in its base unit."""
        quantity = quantity_of(kind)
        digits = quantity.unit(self.reader.hardness_unit).digits
        return self._one(quantity, value, self.reader.hardness_unit, digits)

    def water_between(self, kind: str, low: float, high: float) -> str:
        """Two ends of one figure, the unit once."""
        quantity, unit = quantity_of(kind), self.reader.hardness_unit
        found = quantity.unit(unit)
        first, last = (
            self.number(quantity.from_base(max(v, 0.0), unit), found.digits) for v in (low, high)
        )
        return f"{range_text(first, last, self.reader.language.numbers)}{THIN}{found.sign}"

    def water_spread(self, kind: str, spread: Spread) -> str:
        """A figure with its 5-95 %."""
        return self.reader.figure(quantity_of(kind), self.reader.hardness_unit, spread).full

    def between(self, low: float, high: float, digits: int = 0, unit: str = "") -> str:
        """Two bare numbers as one text."""
        form = self.reader.language.numbers
        joined = range_text(self.number(low, digits), self.number(high, digits), form)
        return f"{joined}{THIN}{unit}" if unit else joined

    def _one(self, quantity: Quantity, value: float, unit: str, digits: int) -> str:
        found = quantity.unit(unit)
        return f"{self.number(quantity.from_base(value, unit), digits)}{THIN}{found.sign}"


def quantity_of(kind: str) -> Quantity:
    """What a titration measures."""
    return ALKALINITY if kind == "alkalinity" else HARDNESS
