"""No rows from the meters for longer than the site file allows."""

from __future__ import annotations

from analytics.alarm import DAY_S, Priority, Quiet, Rule, Situation, active_if


def _excess(now: Situation) -> float | None:
    return active_if(now.silent_since_ms is not None)


def _numbers(now: Situation) -> dict[str, float]:
    return {"limit_s": now.line.limits.gap_s}


RULE = Rule(
    name="data-gap",
    priority=Priority.LOW,
    respond_within_s=DAY_S,
    excess=_excess,
    numbers=_numbers,
    quiet=frozenset((Quiet.WORK,)),
    must_be_seen=False,
)
