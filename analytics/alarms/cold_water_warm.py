"""The cold water comes warm: germs grow, and the probes' figures with it."""

from __future__ import annotations

import math

from analytics.alarm import DAY_S, HOUR_S, Priority, Quiet, Rule, Situation


def _excess(now: Situation) -> float | None:
    """By the coolest draw of the quarter, once its pipe was purged (VDI 6023: at most 25 C)."""
    if now.quarter is None or not math.isfinite(now.quarter.coldest_c):
        return None
    return now.quarter.coldest_c - now.line.limits.cold_c


def _numbers(now: Situation) -> dict[str, float]:
    found = {"limit_c": now.line.limits.cold_c}
    if now.quarter is not None and math.isfinite(now.quarter.coldest_c):
        found["temp_c"] = now.quarter.coldest_c
    return found


RULE = Rule(
    name="cold-water-warm",
    priority=Priority.LOW,
    respond_within_s=3 * DAY_S,
    excess=_excess,
    numbers=_numbers,
    on_delay_s=HOUR_S,
    off_delay_s=12 * HOUR_S,
    deadband=1.0,
    quiet=frozenset((Quiet.WORK,)),
    must_be_seen=False,
)
