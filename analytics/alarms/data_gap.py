"""No rows from the meters for longer than the site file allows."""

from __future__ import annotations

from analytics.alarm import Priority, Rule, Situation


def _excess(now: Situation) -> float | None:
    return 1.0 if now.silent_since_ms is not None else -1.0


def _text(now: Situation) -> str:
    return f"No readings for more than {now.line.limits.gap_s / 60:.0f} min."


RULE = Rule(
    name="data-gap",
    priority=Priority.LOW,
    cause="The meters, their cable or their power is off.",
    consequence="The estimate ages; a fault of the water would not be seen.",
    response="Look at the cable and the power of the meter node.",
    respond_within="1 day",
    excess=_excess,
    text=_text,
)
