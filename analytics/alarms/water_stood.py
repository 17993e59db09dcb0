"""The water has stood too long: flush before use."""

from __future__ import annotations

from analytics.alarm import DAY_S, Priority, Quiet, Rule, Situation
from analytics.samples import HOUR_MS


def _excess(now: Situation) -> float | None:
    """Hours beyond the limit; it stands until enough has flowed (VDI/DVGW 6023: 72 h)."""
    if now.quarter is None or not now.line.flow_meter or not now.flow.last_ms:
        return None
    stood_h = (now.at_ms - now.flow.last_ms) / HOUR_MS
    beyond = stood_h - now.line.limits.standing_h
    return max(beyond, 1.0) if now.flow.unflushed else beyond


def _numbers(now: Situation) -> dict[str, float]:
    stood_h = (now.at_ms - now.flow.last_ms) / HOUR_MS
    return {"hours": stood_h, "flush_l": now.line.limits.flush_l}


RULE = Rule(
    name="water-stood",
    priority=Priority.LOW,
    respond_within_s=DAY_S,
    excess=_excess,
    numbers=_numbers,
    hidden_by=("flow-meter-failure",),
    quiet=frozenset((Quiet.WORK, Quiet.CLOSURE)),
    must_be_seen=False,
)
