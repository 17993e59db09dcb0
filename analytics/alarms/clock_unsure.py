"""The box does not know the time."""

from __future__ import annotations

from analytics.alarm import DAY_S, Priority, Rule, Situation, active_if


def _excess(now: Situation) -> float | None:
    return None if now.host is None else active_if(not now.host.clock_sane)


RULE = Rule(
    name="clock-unsure",
    priority=Priority.LOW,
    respond_within_s=DAY_S,
    excess=_excess,
    on_delay_s=600.0,
    off_delay_s=600.0,
    of_site=True,
    must_be_seen=False,
)
