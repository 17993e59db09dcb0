"""Units people use, as exact factors to the unit used inside, with the digits worth showing.

Hardness is kept in mmol/L of calcium and magnesium, alkalinity in meq/L. Every unit of hardness
names one quantity, so conversion is a single factor:

    1 dH    = 10 mg/L CaO                      DIN 38409-6
    1 fH    = 10 mg/L CaCO3                    French degree
    1 e     = 1 grain CaCO3 / imperial gallon  Clark degree
    1 gpg   = 1 grain CaCO3 / US gallon

Grain, pound, both gallons and the cubic foot are exact by definition (International Yard and
Pound Agreement 1959; UK Weights and Measures Act 1985; US gallon 231 cubic inches).
"""

from __future__ import annotations

from typing import Final

import msgspec

from analytics.chemistry.masses import CACO3, CAO, HCO3
from analytics.errors import ModelError

GRAIN_MG: Final = 64.79891
POUND_G: Final = 453.59237
US_GALLON_L: Final = 3.785411784
IMPERIAL_GALLON_L: Final = 4.54609
CUBIC_FOOT_L: Final = 28.316846592

DH_MMOL_L: Final = 10.0 / CAO
FH_MMOL_L: Final = 10.0 / CACO3
CLARK_MMOL_L: Final = GRAIN_MG / IMPERIAL_GALLON_L / CACO3
GPG_MMOL_L: Final = GRAIN_MG / US_GALLON_L / CACO3


class Unit(msgspec.Struct, frozen=True, kw_only=True):
    """One unit: value in the base unit = value * `factor` + `offset`; shown with `digits`."""

    name: str
    sign: str
    factor: float
    digits: int
    offset: float = 0.0


class Quantity(msgspec.Struct, frozen=True, kw_only=True):
    """A kind of figure and the units it may be read or shown in; the first is the base unit."""

    name: str
    units: tuple[Unit, ...]

    def unit(self, name: str) -> Unit:
        """The unit of this name or sign.

        Raises ModelError that lists the units there are.
        """
        for unit in self.units:
            if name in (unit.name, unit.sign):
                return unit
        known = ", ".join(unit.name for unit in self.units)
        raise ModelError(f"{name!r} is not a unit of {self.name}", f"Use one of {known}.")

    def to_base(self, value: float, unit: str) -> float:
        """The value in the base unit."""
        found = self.unit(unit)
        return value * found.factor + found.offset

    def from_base(self, value: float, unit: str) -> float:
        """A value in the base unit, in this unit."""
        found = self.unit(unit)
        return (value - found.offset) / found.factor

    def convert(self, value: float, unit: str, into: str) -> float:
        """The value in another unit."""
        return self.from_base(self.to_base(value, unit), into)

    def shown(self, value: float, unit: str) -> str:
        """A value in the base unit written in this unit, with its sign and sensible digits."""
        found = self.unit(unit)
        return f"{self.from_base(value, unit):.{found.digits}f} {found.sign}".rstrip()


def _concentration(name: str, base: tuple[Unit, Unit], base_per_mmol_l: float) -> Quantity:
    """Degrees and mg/L as CaCO3, one mmol/L of which is `base_per_mmol_l` of the base unit."""
    degrees = (
        ("dH", "°dH", DH_MMOL_L, 1),
        ("fH", "°fH", FH_MMOL_L, 1),
        ("e", "°e", CLARK_MMOL_L, 1),
        ("gpg", "gpg", GPG_MMOL_L, 1),
        ("mg/L CaCO3", "mg/L CaCO₃", 1 / CACO3, 0),
        ("ppm", "ppm", 1 / CACO3, 0),
    )
    units = tuple(
        Unit(name=n, sign=s, factor=f * base_per_mmol_l, digits=d) for n, s, f, d in degrees
    )
    return Quantity(name=name, units=(*base, *units))


def _unit(name: str, factor: float, digits: int, sign: str = "", offset: float = 0.0) -> Unit:
    return Unit(name=name, sign=sign or name, factor=factor, digits=digits, offset=offset)


HARDNESS: Final = _concentration(
    "hardness", (_unit("mmol/L", 1.0, 2), _unit("meq/L", 0.5, 2)), base_per_mmol_l=1.0
)
"""Total, calcium, carbonate or permanent hardness; base mmol/L."""

_ALKALINITY = _concentration(
    "alkalinity", (_unit("meq/L", 1.0, 2), _unit("mmol/L", 1.0, 2)), base_per_mmol_l=2.0
)
ALKALINITY: Final = msgspec.structs.replace(
    _ALKALINITY,
    units=(*_ALKALINITY.units, _unit("mg/L HCO3", 1 / HCO3, 0, "mg/L HCO₃")),
)
"""What a carbonate hardness test titrates; base meq/L, the same as mmol/L of acid."""

CONDUCTIVITY: Final = Quantity(
    name="conductivity",
    units=(
        _unit("uS/cm", 1.0, 0, "µS/cm"),
        _unit("mS/cm", 1000.0, 3),
        _unit("mS/m", 10.0, 1),
        _unit("S/m", 10_000.0, 4),
    ),
)

TEMPERATURE: Final = Quantity(
    name="temperature",
    units=(
        _unit("degC", 1.0, 1, "°C"),
        _unit("degF", 5 / 9, 1, "°F", -160 / 9),
        _unit("K", 1.0, 1, offset=-273.15),
    ),
)

VOLUME: Final = Quantity(
    name="volume",
    units=(
        _unit("L", 1.0, 0),
        _unit("mL", 0.001, 0),
        _unit("m3", 1000.0, 2, "m³"),
        _unit("gal", US_GALLON_L, 0, "US gal"),
        _unit("imperial gal", IMPERIAL_GALLON_L, 0, "imp gal"),
    ),
)

FLOW: Final = Quantity(
    name="flow",
    units=(
        _unit("L/min", 1.0, 2),
        _unit("L/h", 1 / 60, 0),
        _unit("m3/h", 1000 / 60, 3, "m³/h"),
        _unit("gpm", US_GALLON_L, 2, "US gpm"),
    ),
)

CAPACITY: Final = Quantity(
    name="capacity",
    units=(
        _unit("mmol", 1.0, 0),
        _unit("eq", 500.0, 2),
        _unit("dH*L", DH_MMOL_L, 0, "°dH·L"),
        _unit("fH*L", FH_MMOL_L, 0, "°fH·L"),
        _unit("gr", GRAIN_MG / CACO3, 0, "grains"),
        _unit("kgr", 1000 * GRAIN_MG / CACO3, 1),
    ),
)
"""Hardness a cartridge takes up; base mmol of hardness."""

QUANTITIES: Final = (
    HARDNESS,
    ALKALINITY,
    CONDUCTIVITY,
    TEMPERATURE,
    VOLUME,
    FLOW,
    CAPACITY,
)
