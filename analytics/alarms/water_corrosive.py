"""The machine's water has too little alkalinity to leave metal alone."""

from __future__ import annotations

from analytics.alarm import DAY_S, Priority, Quiet, Rule, Situation
from analytics.chemistry.treatment import USUAL_LIMITS
from analytics.machine_water import profile
from analytics.survey.window import Window


def _excess(now: Situation) -> float | None:
    """Against the usual limit for metal, or the profile's if that is lower (treatment.py)."""
    window = profile(now.line.limits.profile)
    if window is None or now.water is None:
        return None
    return _floor(window) - now.water.alkalinity_meq_l


def _floor(window: Window) -> float:
    return min(USUAL_LIMITS.alkalinity_meq_l, window.alkalinity_meq_l.floor)


def _numbers(now: Situation) -> dict[str, float]:
    window = profile(now.line.limits.profile)
    if window is None or now.water is None:
        return {}
    found = now.water
    return {
        "alkalinity_meq_l": found.alkalinity_meq_l,
        "ph": found.ph,
        "limit_meq_l": _floor(window),
    }


RULE = Rule(
    name="water-corrosive",
    priority=Priority.MEDIUM,
    respond_within_s=7 * DAY_S,
    excess=_excess,
    numbers=_numbers,
    deadband=0.1,
    on_delay_s=DAY_S,
    off_delay_s=DAY_S,
    quiet=frozenset((Quiet.WORK, Quiet.CLOSURE)),
)
