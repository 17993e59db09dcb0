"""The cartridge's carbon has seen its litres."""

from __future__ import annotations

from analytics.alarm import DAY_S, Priority, Quiet, Rule, Situation


def _excess(now: Situation) -> float | None:
    left = None if now.estimate is None else now.estimate.carbon_left_l
    return None if left is None else -left


RULE = Rule(
    name="carbon-spent",
    priority=Priority.LOW,
    respond_within_s=7 * DAY_S,
    excess=_excess,
    on_delay_s=DAY_S,
    off_delay_s=DAY_S,
    hidden_by=("breakthrough", "change-now", "time-limit"),
    quiet=frozenset((Quiet.WORK,)),
)
