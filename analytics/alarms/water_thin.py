"""The machine's water is softer than the site wants it."""

from __future__ import annotations

from analytics.alarm import DAY_S, Priority, Quiet, Rule, Situation
from analytics.machine_water import profile
from analytics.quantities import DH_MMOL_L


def _found_and_limit(now: Situation) -> tuple[float, float] | None:
    limit = now.line.limits.outlet_low_mmol_l
    outlet = None if now.estimate is None else now.estimate.outlet_mmol_l
    if limit is not None:
        return None if outlet is None else (outlet.p50, limit)
    window = profile(now.line.limits.profile)
    if window is None or now.water is None:
        return None
    return now.water.hardness_mmol_l, window.hardness_mmol_l.floor


def _excess(now: Situation) -> float | None:
    both = _found_and_limit(now)
    return None if both is None else both[1] - both[0]


def _numbers(now: Situation) -> dict[str, float]:
    both = _found_and_limit(now)
    return {} if both is None else {"hardness_mmol_l": both[0], "limit_mmol_l": both[1]}


RULE = Rule(
    name="water-thin",
    priority=Priority.LOW,
    respond_within_s=7 * DAY_S,
    excess=_excess,
    numbers=_numbers,
    deadband=0.3 * DH_MMOL_L,
    on_delay_s=DAY_S,
    off_delay_s=DAY_S,
    quiet=frozenset((Quiet.WORK, Quiet.CLOSURE)),
)
