"""The machine's water is harder than the site's brew-water profile."""

from __future__ import annotations

from analytics.alarm import DAY_S, Priority, Quiet, Rule, Situation
from analytics.machine_water import profile
from analytics.quantities import DH_MMOL_L


def _excess(now: Situation) -> float | None:
    window = profile(now.line.limits.profile)
    if window is None or now.water is None:
        return None
    return now.water.hardness_mmol_l - window.hardness_mmol_l.ceiling


def _numbers(now: Situation) -> dict[str, float]:
    window = profile(now.line.limits.profile)
    if window is None or now.water is None:
        return {}
    ceiling = window.hardness_mmol_l.ceiling
    return {"hardness_mmol_l": now.water.hardness_mmol_l, "limit_mmol_l": ceiling}


RULE = Rule(
    name="water-hard",
    priority=Priority.LOW,
    respond_within_s=3 * DAY_S,
    excess=_excess,
    numbers=_numbers,
    deadband=0.3 * DH_MMOL_L,
    hidden_by=("breakthrough", "outlet-hardness-high"),
    on_delay_s=DAY_S,
    off_delay_s=DAY_S,
    quiet=frozenset((Quiet.WORK, Quiet.CLOSURE)),
)
