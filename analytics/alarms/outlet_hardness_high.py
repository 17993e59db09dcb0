"""The machine gets harder water than the site file allows."""

from __future__ import annotations

from analytics.alarm import Priority, Rule, Situation
from analytics.quantities import DH_MMOL_L


def _excess(now: Situation) -> float | None:
    limit = now.line.limits.outlet_high_mmol_l
    if limit is None or now.estimate is None or now.estimate.outlet_mmol_l is None:
        return None
    return now.estimate.outlet_mmol_l.p50 - limit


def _text(now: Situation) -> str:
    found = None if now.estimate is None else now.estimate.outlet_mmol_l
    limit = now.line.limits.outlet_high_mmol_l
    if found is None or limit is None:
        return "The water behind the cartridge is harder than the limit."
    low, high = found.p05 / DH_MMOL_L, found.p95 / DH_MMOL_L
    return (
        f"The machine gets about {found.p50 / DH_MMOL_L:.1f} °dH ({low:.1f}–{high:.1f}); "
        f"the limit is {limit / DH_MMOL_L:.1f} °dH."
    )


RULE = Rule(
    name="outlet-hardness-high",
    priority=Priority.HIGH,
    cause="The bed is exhausted, the bypass is open too far, or the raw water became harder.",
    consequence="The machine begins to scale.",
    response="Do a drop test of the machine's water; change the cartridge if it agrees.",
    respond_within="2 days",
    excess=_excess,
    text=_text,
    on_delay_s=7200.0,
    off_delay_s=7200.0,
    deadband=0.2 * DH_MMOL_L,
)
