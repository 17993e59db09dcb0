"""Where the water goes: the machine, how much it draws, and what matters most there."""

from __future__ import annotations

from enum import StrEnum
from typing import Final

import msgspec

from analytics.chemistry.saturation import BREW_BOILER, STEAM_BOILER, Boiler
from analytics.errors import ModelError

DAYS_A_MONTH: Final = 365.25 / 12
LONGEST_MONTHS: Final = 12.0
"""A cartridge is changed after 6-12 months whatever passed it: hygiene (common practice)."""


class Boilers(StrEnum):
    """What the machine heats water in."""

    BREW = "brew"
    STEAM = "steam"
    BOTH = "both"


class Material(StrEnum):
    """What the boilers are made of."""

    STAINLESS = "stainless"
    BRASS = "brass"
    COPPER = "copper"
    UNKNOWN = "unknown"


class Aim(StrEnum):
    """What matters most."""

    TASTE = "taste"
    MACHINE = "machine"


class Site(msgspec.Struct, frozen=True, kw_only=True):
    """Machine and use. `litres_a_day` is drawn on an open day; `months` is how long a cartridge
    should last; `capacity_mmol` is that of a cartridge at hand, None where it is to be chosen."""

    boilers: Boilers = Boilers.BOTH
    material: Material = Material.UNKNOWN
    aim: Aim = Aim.TASTE
    low_sodium: bool = False
    litres_a_day: float | None = None
    days_a_week: float = 7.0
    months: float = 6.0
    capacity_mmol: float | None = None
    capacity_relative_sd: float = 0.10
    concentration: float = STEAM_BOILER.concentration

    @property
    def brews(self) -> bool:
        """Whether the water is drunk as coffee."""
        return self.boilers is not Boilers.STEAM

    @property
    def steams(self) -> bool:
        """Whether steam is drawn, so that salts stay behind."""
        return self.boilers is not Boilers.BREW

    @property
    def chloride_matters(self) -> bool:
        """Stainless steel and brass suffer from chloride; an unknown metal may be one of them."""
        return self.material is not Material.COPPER

    @property
    def steam_boiler(self) -> Boiler:
        """The steam boiler with this site's concentration factor."""
        return msgspec.structs.replace(STEAM_BOILER, concentration=self.concentration)

    @property
    def brew_boiler(self) -> Boiler:
        """The brew boiler."""
        return BREW_BOILER

    @property
    def open_days_a_month(self) -> float:
        """Days of use in a mean month."""
        return DAYS_A_MONTH * self.days_a_week / 7.0


_RANGES = (
    ("litres_a_day", "litres a day", 0.1, 100_000.0, "Give the litres drawn on an open day."),
    ("days_a_week", "open days a week", 0.5, 7.0, "Give 1 to 7 days."),
    ("months", "months", 0.25, 60.0, "Give the months a cartridge should last, 6 to 12."),
    ("capacity_mmol", "mmol of capacity", 0.5, 1e7, "Give the cartridge's capacity in dH*L."),
    ("concentration", "as a concentration factor", 1.0, 20.0, "Give 1 to 20; 3 is usual."),
)


def require_sensible(site: Site) -> None:
    """Raises ModelError for a use that cannot be."""
    for field, words, low, high, mend in _RANGES:
        value = getattr(site, field)
        if value is not None and not low <= value <= high:
            raise ModelError(f"{value:g} {words} cannot be: {low:g} to {high:g} can", mend)
