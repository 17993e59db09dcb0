"""The utility delivers another water: a step within hours, not the slope of exhaustion."""

from __future__ import annotations

from analytics.alarm import DAY_S, Priority, Quiet, Rule, Situation, active_if, spread_numbers
from analytics.samples import DAY_MS

SHOWN_MS = 2 * DAY_MS
"""The alarm stands this long after the step; by then the estimate has taken it in."""
TOGETHER = "inlet-and-outlet-stepped-together"


def _excess(now: Situation) -> float | None:
    estimate = now.estimate
    if estimate is None:
        return None
    if estimate.change != "source" or estimate.change_ms is None:
        return -1.0
    return active_if(now.at_ms - estimate.change_ms < SHOWN_MS)


def _numbers(now: Situation) -> dict[str, float]:
    if now.estimate is None:
        return {}
    likely = {"change_probability": now.estimate.change_probability}
    return likely | spread_numbers("raw_mmol_l", now.estimate.raw_mmol_l)


def _word(now: Situation) -> str:
    reason = "" if now.estimate is None else now.estimate.change_reason
    return "together" if reason == TOGETHER else "outlet-alone"


RULE = Rule(
    name="raw-water-changed",
    priority=Priority.MEDIUM,
    respond_within_s=3 * DAY_S,
    excess=_excess,
    numbers=_numbers,
    word=_word,
    quiet=frozenset((Quiet.WORK,)),
)
