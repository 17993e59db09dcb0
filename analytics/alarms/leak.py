"""Water flows with the place shut."""

from __future__ import annotations

from analytics.alarm import HOUR_S, Priority, Quiet, Rule, Situation

QUARTERS = 8
"""Flow in so many quarters of an hour running, however little, has no end: it drips."""


def _excess(now: Situation) -> float | None:
    if now.quarter is None or not now.line.flow_meter:
        return None
    litres = now.flow.shut_l - now.line.limits.leak_l_h
    return max(litres, float(now.flow.shut_quarters - QUARTERS + 1))


def _numbers(now: Situation) -> dict[str, float]:
    return {"litres_last_hour": now.flow.shut_l}


RULE = Rule(
    name="leak",
    priority=Priority.HIGH,
    respond_within_s=HOUR_S,
    excess=_excess,
    numbers=_numbers,
    off_delay_s=HOUR_S,
    quiet=frozenset((Quiet.WORK,)),
)
