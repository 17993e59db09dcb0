"""No water flows with the place open."""

from __future__ import annotations

from analytics.alarm import DAY_S, Priority, Quiet, Rule, Situation

BEYOND_USUAL = 1.25
"""A quiet place waits for hours now and then: only a wait longer than its usual ones counts."""


def _excess(now: Situation) -> float | None:
    if now.quarter is None or not now.line.flow_meter:
        return None
    usual = BEYOND_USUAL * now.flow.usual_gap_h
    return now.flow.still_open_h - max(now.line.limits.no_flow_h, usual)


def _numbers(now: Situation) -> dict[str, float]:
    return {"hours": now.flow.still_open_h}


RULE = Rule(
    name="no-flow",
    priority=Priority.LOW,
    respond_within_s=DAY_S,
    excess=_excess,
    numbers=_numbers,
    hidden_by=("flow-meter-failure", "water-stood"),
    quiet=frozenset((Quiet.WORK, Quiet.CLOSURE)),
    must_be_seen=False,
)
