"""The utility delivers another water: a step within hours, not the slope of exhaustion."""

from __future__ import annotations

from analytics.alarm import Priority, Rule, Situation
from analytics.samples import DAY_MS

SHOWN_MS = 2 * DAY_MS
"""The alarm stands this long after the step; by then the estimate has taken it in."""


def _excess(now: Situation) -> float | None:
    estimate = now.estimate
    if estimate is None:
        return None
    if estimate.change != "source" or estimate.change_ms is None:
        return -1.0
    return 1.0 if now.at_ms - estimate.change_ms < SHOWN_MS else -1.0


def _text(now: Situation) -> str:
    estimate = now.estimate
    if estimate is not None and estimate.change_reason == "inlet-and-outlet-stepped-together":
        return (
            "Conductivity before and behind the cartridge stepped together within hours: "
            "another raw water, not an exhausted cartridge."
        )
    return (
        "Conductivity behind the cartridge stepped within hours, too fast for an exhausted "
        "cartridge: probably another raw water. A drop test of raw water would tell."
    )


RULE = Rule(
    name="raw-water-changed",
    priority=Priority.MEDIUM,
    cause="The utility has gone over to another source, or a valve was turned.",
    consequence="Litres left and outlet hardness change; the bypass may no longer fit.",
    response="Do a drop test of raw and of the machine's water; check the bypass.",
    respond_within="3 days",
    excess=_excess,
    text=_text,
)
