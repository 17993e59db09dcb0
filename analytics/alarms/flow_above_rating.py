"""Water is drawn faster than the cartridge is rated for."""

from __future__ import annotations

from analytics.alarm import DAY_S, Priority, Quiet, Rule, Situation

MARGIN = 1.05
"""A flow meter is good to about this (deadband of flow, ISA-18.2)."""


def _excess(now: Situation) -> float | None:
    """By the fastest draw of the quarter, as a share of the rating."""
    rated = now.line.rated_flow_l_min
    if rated is None or now.quarter is None:
        return None
    return now.quarter.fastest / now.line.pulses_per_l / rated - MARGIN


def _numbers(now: Situation) -> dict[str, float]:
    rated = now.line.rated_flow_l_min
    if rated is None or now.quarter is None:
        return {}
    return {"flow_l_min": now.quarter.fastest / now.line.pulses_per_l, "limit_l_min": rated}


RULE = Rule(
    name="flow-above-rating",
    priority=Priority.LOW,
    respond_within_s=7 * DAY_S,
    excess=_excess,
    numbers=_numbers,
    off_delay_s=DAY_S,
    deadband=0.05,
    quiet=frozenset((Quiet.WORK,)),
    must_be_seen=False,
)
