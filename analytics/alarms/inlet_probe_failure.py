"""The inlet probe gives no usable signal (NE 107: failure)."""

from __future__ import annotations

from analytics.alarm import DAY_S, HOUR_S, Priority, Quiet, Rule, health_word, of_health
from analytics.health import FAILURE, inlet_of

RULE = Rule(
    name="inlet-probe-failure",
    priority=Priority.LOW,
    respond_within_s=2 * DAY_S,
    excess=of_health(inlet_of, FAILURE),
    word=health_word(inlet_of),
    on_delay_s=HOUR_S / 2,
    off_delay_s=HOUR_S / 2,
    hidden_by=("data-gap",),
    quiet=frozenset((Quiet.WORK,)),
)
