"""The plain litre counter that the estimate is held against.

It knows what today's practice knows: rated capacity over the hardness that the bed takes, worked
out once from the first drop test of raw water (else the utility's report) and the bypass as set,
then litres counted with the stated K-factor. It shows the hardness as set, too.
"""

from __future__ import annotations

import msgspec

from analytics.samples import AnyEvent, DropTest, Floats, Point, UtilityReport
from analytics.setup import CapacityKind, LineSetup

WARN_SHARE = 0.1
"""A counter warns at a tenth left and calls the end at none (common practice, no source)."""


class Counter(msgspec.Struct, frozen=True, kw_only=True):
    """A counter that was set once: whole life in litres, and the outlet hardness it was set for."""

    total_l: float
    outlet_mmol_l: float

    def left_l(self, passed_l: Floats) -> Floats:
        """Litres left after these have passed; negative beyond the end."""
        return self.total_l - passed_l


def set_counter(line: LineSetup, events: tuple[AnyEvent, ...]) -> Counter | None:
    """The counter as it is set on the day of installation; None where raw water is unknown."""
    raw = _raw_kind(line.capacity_kind, events)
    if raw is None or line.capacity_mmol is None:
        return None
    removed = raw * (1.0 - line.bypass)
    return Counter(total_l=line.capacity_mmol / max(removed, 1e-9), outlet_mmol_l=raw * line.bypass)


def _raw_kind(kind: CapacityKind, events: tuple[AnyEvent, ...]) -> float | None:
    """Raw hardness of the kind as the installer has it, mmol/L."""
    report = next((e for e in events if isinstance(e, UtilityReport)), None)
    test = next((e for e in events if isinstance(e, DropTest) and e.point is Point.RAW), None)
    total = test.hardness_mmol_l if test is not None else None
    alkalinity = test.alkalinity_meq_l if test is not None else None
    if report is not None:
        total = report.hardness_mmol_l if total is None else total
        alkalinity = report.alkalinity_meq_l if alkalinity is None else alkalinity
    if total is None:
        return None
    if kind is CapacityKind.CARBONATE and alkalinity is not None:
        return min(total, 0.5 * alkalinity)
    if kind is CapacityKind.CALCIUM:
        return total * _calcium_share(report)
    return total


def _calcium_share(report: UtilityReport | None) -> float:
    """Calcium's share of hardness by the report; 0.8 where it says nothing."""
    if report is None or report.calcium_mmol_l is None:
        return 0.8
    if report.magnesium_mmol_l is not None:
        return report.calcium_mmol_l / max(report.calcium_mmol_l + report.magnesium_mmol_l, 1e-9)
    return report.calcium_mmol_l / max(report.hardness_mmol_l or report.calcium_mmol_l, 1e-9)
