"""The bypass that is seen is not the one that is set."""

from __future__ import annotations

from analytics.alarm import DAY_S, HOUR_S, Priority, Quiet, Rule, Situation, spread_numbers


def _excess(now: Situation) -> float | None:
    """How far the nearer end of the range seen is from the setting, beyond what is allowed."""
    seen = None if now.estimate is None else now.estimate.bypass
    if seen is None:
        return None
    miss = max(seen.p05 - now.bypass_set, now.bypass_set - seen.p95)
    return miss - now.line.limits.bypass_off


def _numbers(now: Situation) -> dict[str, float]:
    seen = None if now.estimate is None else now.estimate.bypass
    return spread_numbers("bypass", seen) | {"bypass_set": now.bypass_set}


RULE = Rule(
    name="bypass-off",
    priority=Priority.LOW,
    respond_within_s=7 * DAY_S,
    excess=_excess,
    numbers=_numbers,
    on_delay_s=12 * HOUR_S,
    off_delay_s=DAY_S,
    deadband=0.03,
    quiet=frozenset((Quiet.WORK,)),
)
