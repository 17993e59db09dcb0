"""The machine gets harder water than the site file allows."""

from __future__ import annotations

from analytics.alarm import DAY_S, HOUR_S, Priority, Quiet, Rule, Situation, spread_numbers
from analytics.quantities import DH_MMOL_L


def _limit(now: Situation) -> float | None:
    return now.line.limits.outlet_high_mmol_l


def _excess(now: Situation) -> float | None:
    limit = _limit(now)
    if limit is None or now.estimate is None or now.estimate.outlet_mmol_l is None:
        return None
    return now.estimate.outlet_mmol_l.p50 - limit


def _numbers(now: Situation) -> dict[str, float]:
    found, limit = now.estimate.outlet_mmol_l if now.estimate else None, _limit(now)
    told = spread_numbers("outlet_mmol_l", found)
    return told if limit is None else told | {"limit_mmol_l": limit}


RULE = Rule(
    name="outlet-hardness-high",
    priority=Priority.HIGH,
    respond_within_s=2 * DAY_S,
    excess=_excess,
    numbers=_numbers,
    on_delay_s=2 * HOUR_S,
    off_delay_s=12 * HOUR_S,
    deadband=0.2 * DH_MMOL_L,
    quiet=frozenset((Quiet.WORK,)),
)
