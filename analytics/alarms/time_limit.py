"""The cartridge has been in longer than it may, whatever passed it."""

from __future__ import annotations

from analytics.alarm import DAY_S, Priority, Quiet, Rule, Situation
from analytics.samples import DAY_MS


def _days_left(now: Situation) -> float | None:
    limit = None if now.estimate is None else now.estimate.time_limit_ms
    return None if limit is None else (limit - now.at_ms) / DAY_MS


def _excess(now: Situation) -> float | None:
    left = _days_left(now)
    return None if left is None else -left


def _numbers(now: Situation) -> dict[str, float]:
    left = _days_left(now)
    return {} if left is None else {"days": -left}


RULE = Rule(
    name="time-limit",
    priority=Priority.MEDIUM,
    respond_within_s=7 * DAY_S,
    excess=_excess,
    numbers=_numbers,
    quiet=frozenset((Quiet.WORK,)),
)
