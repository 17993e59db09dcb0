"""Hardly anything of the cartridge is left: change it now."""

from __future__ import annotations

from analytics.alarm import DAY_S, HOUR_S, Priority, Quiet, Rule, Situation, numbers_left


def _excess(now: Situation) -> float | None:
    estimate = now.estimate
    if estimate is None or estimate.used_share is None:
        return None
    limits = now.line.limits
    over = [limits.share_now - (1.0 - estimate.used_share.p50)]
    if limits.days_now > 0.0 and estimate.days_left is not None:
        over.append((limits.days_now - estimate.days_left.p50) / limits.days_now)
    return max(over)


RULE = Rule(
    name="change-now",
    priority=Priority.MEDIUM,
    respond_within_s=2 * DAY_S,
    excess=_excess,
    numbers=numbers_left,
    on_delay_s=2 * HOUR_S,
    off_delay_s=DAY_S,
    deadband=0.1,
    hidden_by=("breakthrough",),
    quiet=frozenset((Quiet.WORK,)),
)
