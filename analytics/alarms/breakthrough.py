"""The end of capacity has been reached: a fifth of what the bed removed has come back."""

from __future__ import annotations

from analytics.alarm import DAY_S, Priority, Quiet, Rule, Situation

SURE = 0.9
"""Raised when the end is this probable."""


def _excess(now: Situation) -> float | None:
    if now.estimate is None or now.estimate.used_share is None:
        return None
    return now.estimate.end_probability - SURE


def _numbers(now: Situation) -> dict[str, float]:
    return {} if now.estimate is None else {"end_probability": now.estimate.end_probability}


RULE = Rule(
    name="breakthrough",
    priority=Priority.MEDIUM,
    respond_within_s=2 * DAY_S,
    excess=_excess,
    numbers=_numbers,
    off_delay_s=DAY_S,
    deadband=0.2,
    quiet=frozenset((Quiet.WORK,)),
)
