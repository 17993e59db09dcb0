"""A fault of meters or line that no other alarm speaks of has been told apart."""

from __future__ import annotations

from analytics.alarm import DAY_S, HOUR_S, Priority, Quiet, Rule, Situation, active_if
from analytics.diagnosis.faults import Finding

SPOKEN_OF = frozenset((
    "data-gap", "no-reading", "cell-dry", "cell-short", "probe-stuck", "readings-doubted",
    "counter-anew", "leak", "no-flow", "bypass-moved", "raw-water-changed", "calibration",
))  # fmt: skip
"""Faults that have an alarm of their own."""
SURE = 0.7


def _first(now: Situation) -> Finding | None:
    """The finding to be told: those that explain others come first."""
    told = (f for f in now.findings if f.code not in SPOKEN_OF and f.confidence >= SURE)
    return next(told, None)


def _excess(now: Situation) -> float | None:
    return active_if(_first(now) is not None)


def _word(now: Situation) -> str:
    found = _first(now)
    return "" if found is None else found.code


RULE = Rule(
    name="fault-found",
    priority=Priority.LOW,
    respond_within_s=7 * DAY_S,
    excess=_excess,
    word=_word,
    on_delay_s=6 * HOUR_S,
    off_delay_s=12 * HOUR_S,
    quiet=frozenset((Quiet.WORK,)),
    must_be_seen=False,
)
