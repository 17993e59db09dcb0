"""The cartridge comes to the end of its time: order and plan the change."""

from __future__ import annotations

from analytics.alarm import DAY_S, Priority, Quiet, Rule, Situation, active_if
from analytics.samples import DAY_MS


def _days_left(now: Situation) -> float | None:
    limit = None if now.estimate is None else now.estimate.time_limit_ms
    return None if limit is None else (limit - now.at_ms) / DAY_MS


def _excess(now: Situation) -> float | None:
    left = _days_left(now)
    return None if left is None else active_if(left <= now.line.limits.days_low)


def _numbers(now: Situation) -> dict[str, float]:
    left = _days_left(now)
    return {} if left is None else {"days": left}


RULE = Rule(
    name="time-limit-near",
    priority=Priority.LOW,
    respond_within_s=14 * DAY_S,
    excess=_excess,
    numbers=_numbers,
    hidden_by=("time-limit", "breakthrough", "change-now"),
    quiet=frozenset((Quiet.WORK,)),
    must_be_seen=False,
)
