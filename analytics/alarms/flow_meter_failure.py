"""The flow meter gives no usable signal (NE 107: failure)."""

from __future__ import annotations

from analytics.alarm import DAY_S, HOUR_S, Priority, Quiet, Rule, health_word, of_health
from analytics.health import FAILURE, flow_of

RULE = Rule(
    name="flow-meter-failure",
    priority=Priority.MEDIUM,
    respond_within_s=2 * DAY_S,
    excess=of_health(flow_of, FAILURE),
    word=health_word(flow_of),
    on_delay_s=HOUR_S / 2,
    off_delay_s=HOUR_S / 2,
    hidden_by=("data-gap",),
    quiet=frozenset((Quiet.WORK,)),
)
