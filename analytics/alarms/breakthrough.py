"""The end of capacity has been reached: a fifth of what the bed removed has come back."""

from __future__ import annotations

from analytics.alarm import Priority, Rule, Situation

SURE = 0.9
"""Raised when the end is this probable."""


def _excess(now: Situation) -> float | None:
    if now.estimate is None or now.estimate.used_share is None:
        return None
    return now.estimate.end_probability - SURE


def _text(now: Situation) -> str:
    chance = 0.0 if now.estimate is None else now.estimate.end_probability
    return f"The cartridge is past its end (probability {100 * chance:.0f} %)."


RULE = Rule(
    name="breakthrough",
    priority=Priority.HIGH,
    cause="The bed is exhausted.",
    consequence="The machine gets hard water and begins to scale.",
    response="Do a drop test; change the cartridge.",
    respond_within="2 days",
    excess=_excess,
    text=_text,
    deadband=0.2,
    off_delay_s=86_400.0,
)
