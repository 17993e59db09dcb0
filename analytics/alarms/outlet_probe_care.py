"""The outlet probe wants care (NE 107: out of specification, maintenance required)."""

from __future__ import annotations

from analytics.alarm import DAY_S, HOUR_S, Priority, Quiet, Rule, health_word, of_health
from analytics.health import CARES, outlet_of

RULE = Rule(
    name="outlet-probe-care",
    priority=Priority.LOW,
    respond_within_s=14 * DAY_S,
    excess=of_health(outlet_of, *CARES),
    word=health_word(outlet_of),
    on_delay_s=HOUR_S,
    off_delay_s=12 * HOUR_S,
    hidden_by=("data-gap", "outlet-probe-failure"),
    quiet=frozenset((Quiet.WORK,)),
    must_be_seen=False,
)
