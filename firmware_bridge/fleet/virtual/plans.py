"""Who the fifty virtual sites are: all invented, on a patch of open sea in the South Atlantic.

The same seed is the same fleet.
"""

from __future__ import annotations

import random
from typing import Final

import msgspec

from analytics.chemistry.water import Water, water
from analytics.quantities import DH_MMOL_L
from analytics.setup import CapacityKind

COUNT: Final = 50
DEPOT: Final = (-31.95, -18.06)
"""Latitude and longitude of the company's yard."""
REGIONS: Final[dict[str, Water]] = {
    "Chalk Head": water(
        ca=2.55, mg=0.30, na=0.9, k=0.08, cl=0.95, so4=0.45, no3=0.3, alkalinity=4.7, dic=5.1
    ),
    "Granite Bay": water(
        ca=1.15, mg=0.28, na=0.7, k=0.06, cl=0.75, so4=0.25, no3=0.1, alkalinity=1.9, dic=2.05
    ),
    "Long River": water(
        ca=1.85, mg=0.45, na=1.3, k=0.12, cl=1.35, so4=0.60, no3=0.2, alkalinity=3.2, dic=3.5
    ),
    "Old Estuary": water(
        ca=1.70, mg=0.62, na=2.1, k=0.15, cl=2.25, so4=0.70, no3=0.1, alkalinity=2.9, dic=3.1
    ),
}
"""Raw-water regions and what their mains deliver, in mmol/L (alkalinity in meq/L)."""
_TILT: Final = {"Chalk Head": 0.93, "Granite Bay": 1.03, "Long River": 1.0, "Old Estuary": 0.97}
"""What cartridges give in a region against the middling one."""
_CENTRES: Final = {
    "Chalk Head": (-31.90, -18.00),
    "Granite Bay": (-32.06, -18.10),
    "Long River": (-31.98, -17.88),
    "Old Estuary": (-32.10, -17.95),
}


class Kind(msgspec.Struct, frozen=True):
    """A cartridge as it is ordered: medium, size, capacity as rated in dH*L; what one really gives
    of it, and how often it is met."""

    medium: str
    size: str
    rated_dh_l: float
    gives: float
    often: int

    @property
    def capacity_kind(self) -> CapacityKind:
        """The hardness its capacity counts."""
        return {
            "sodium": CapacityKind.TOTAL,
            "magnesium": CapacityKind.CALCIUM,
        }.get(self.medium, CapacityKind.CARBONATE)


KINDS: Final = (
    Kind("hydrogen", "3", 10_500.0, 0.80, 6),
    Kind("hydrogen", "5", 16_000.0, 0.96, 5),
    Kind("mixed", "3", 9_500.0, 0.92, 4),
    Kind("magnesium", "5", 11_000.0, 1.02, 3),
    Kind("sodium", "2", 11_500.0, 0.88, 3),
)
FIRST: Final = (
    "Net", "Quay", "Lantern", "Pier", "Harbour", "Rope", "Tide", "Anchor", "Gull", "Salt", "Mast",
    "Cable", "Signal", "Ferry", "Keel",
)  # fmt: skip
SECOND: Final = ("Loft", "Kitchen", "Yard", "Corner", "House", "Bakery", "Steps", "Room", "Bar")
FAULTS: Final = {
    7: "silent", 13: "clock", 19: "stranger", 23: "fouled", 29: "leak", 31: "busy", 37: "fouled",
    41: "overdue", 43: "overdue",
}  # fmt: skip
"""What is the matter with a few, by number: it says nothing any more; its clock is wrong; nobody
entered it; a film grows on a probe; a tap drips; twice the guests; nobody comes to change it."""
CUSTOMER: Final = "Tidewater Rooms"
"""One customer has three sites, and a person who may look at them."""
CUSTOMERS_SITES: Final = (3, 16, 27)


class SitePlan(msgspec.Struct, frozen=True, kw_only=True):
    """One site, with what only its makers know: what its cartridges really give, how much it draws,
    when its people change them (as a share of life; None: they wait for the service company)."""

    number: int
    site_id: str
    name: str
    address: str
    region: str
    latitude: float
    longitude: float
    customer: str
    kind: Kind
    bypass_set: float
    bypass_true: float
    litres_a_day: float
    pair: bool
    days: int
    """Days of history before the demonstration begins."""
    changes_at: tuple[float, ...]
    gives: tuple[float, ...]
    """Of each cartridge in turn, as a share of its rating."""
    closed_weekday: int
    fault: str = ""

    @property
    def capacity_mmol(self) -> float:
        """Capacity as rated."""
        return self.kind.rated_dh_l * DH_MMOL_L

    @property
    def adopted(self) -> bool:
        """Whether the company has entered it."""
        return self.fault != "stranger"


def plans(seed: int = 1, count: int = COUNT) -> tuple[SitePlan, ...]:
    """The virtual fleet."""
    chance = random.Random(f"virtual fleet {seed}")
    names = [f"{first} {second}" for first in FIRST for second in SECOND]
    chance.shuffle(names)
    return tuple(_plan(number, names[number], chance) for number in range(count))


def _plan(number: int, name: str, chance: random.Random) -> SitePlan:
    kind = chance.choices(KINDS, weights=[k.often for k in KINDS])[0]
    region = chance.choice(list(REGIONS))
    centre = _CENTRES[region]
    bypass = chance.choice((0.0, 0.1, 0.2)) if kind.medium in ("hydrogen", "mixed") else 0.0
    fault = FAULTS.get(number, "")
    gives = tuple(kind.gives * _TILT[region] * chance.lognormvariate(0.0, 0.07) for _ in range(40))
    early = [chance.uniform(0.55, 0.95) if chance.random() < 0.3 else chance.uniform(1.0, 1.08)
             for _ in range(40)]  # fmt: skip
    if fault == "overdue":
        early[0:2] = [9.0, 9.0]
    return SitePlan(
        number=number,
        site_id=name.lower().replace(" ", "-"),
        name=name,
        address=f"{chance.randint(1, 90)} {chance.choice(FIRST)} Street, {region}",
        region=region,
        latitude=round(centre[0] + chance.gauss(0.0, 0.02), 5),
        longitude=round(centre[1] + chance.gauss(0.0, 0.025), 5),
        customer=CUSTOMER if number in CUSTOMERS_SITES else "",
        kind=kind,
        bypass_set=bypass,
        bypass_true=max(bypass + chance.gauss(0.0, 0.02), 0.01) if bypass else 0.0,
        litres_a_day=chance.uniform(14.0, 30.0) * (1.6 if fault == "busy" else 1.0),
        pair=chance.random() < 0.7,
        days=chance.randint(15, 45) if chance.random() < 0.6 else chance.randint(45, 90),
        changes_at=tuple(early),
        gives=gives,
        closed_weekday=chance.choice((0, 6, 6, 9)),
        fault=fault,
    )
