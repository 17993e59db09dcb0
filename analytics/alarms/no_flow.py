"""No water flows with the place open."""

from __future__ import annotations

from analytics.alarm import DAY_S, Priority, Quiet, Rule, Situation


def _excess(now: Situation) -> float | None:
    if now.quarter is None or not now.line.flow_meter:
        return None
    return now.flow.still_open_h - now.line.limits.no_flow_h


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
