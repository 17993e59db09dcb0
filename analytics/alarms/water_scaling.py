"""The machine's water leaves scale at the brew boiler's temperature."""

from __future__ import annotations

from analytics.alarm import DAY_S, Priority, Quiet, Rule, Situation
from analytics.machine_water import profile


def _excess(now: Situation) -> float | None:
    window = profile(now.line.limits.profile)
    if window is None or now.water is None:
        return None
    return now.water.si - window.si_stop


def _numbers(now: Situation) -> dict[str, float]:
    return {} if now.water is None else {"si": now.water.si}


RULE = Rule(
    name="water-scaling",
    priority=Priority.MEDIUM,
    respond_within_s=3 * DAY_S,
    excess=_excess,
    numbers=_numbers,
    deadband=0.1,
    hidden_by=("breakthrough", "outlet-hardness-high"),
    on_delay_s=DAY_S,
    off_delay_s=DAY_S,
    quiet=frozenset((Quiet.WORK, Quiet.CLOSURE)),
)
