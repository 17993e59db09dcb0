"""Which hardness a medium works on, and so which its capacity is counted in if nothing is said."""

from __future__ import annotations

from analytics.setup import CapacityKind

CAPACITY_KINDS: dict[str, CapacityKind] = {
    "sodium": CapacityKind.TOTAL,
    "hydrogen": CapacityKind.CARBONATE,
    "mixed": CapacityKind.CARBONATE,
    "magnesium": CapacityKind.CALCIUM,
    "membrane": CapacityKind.TOTAL,
    "carbon": CapacityKind.TOTAL,
    "polyphosphate": CapacityKind.TOTAL,
}

EXCHANGERS = ("sodium", "hydrogen", "mixed", "magnesium")
"""Media that hold a countable amount of hardness."""
