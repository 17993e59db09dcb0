"""The flow meter wants care (NE 107: out of specification, maintenance required)."""

from __future__ import annotations

from analytics.alarm import DAY_S, HOUR_S, Priority, Quiet, Rule, health_word, of_health
from analytics.health import CARES, flow_of

RULE = Rule(
    name="flow-meter-care",
    priority=Priority.LOW,
    respond_within_s=14 * DAY_S,
    excess=of_health(flow_of, *CARES),
    word=health_word(flow_of),
    on_delay_s=HOUR_S,
    off_delay_s=12 * HOUR_S,
    hidden_by=("data-gap", "flow-meter-failure"),
    quiet=frozenset((Quiet.WORK,)),
    must_be_seen=False,
)
