"""The cartridge nears the end of its capacity: order and plan the change."""

from __future__ import annotations

from analytics.alarm import DAY_S, HOUR_S, Priority, Quiet, Rule, Situation, numbers_left

LIKELY = 0.3
"""Raised when it is this probable that no more than the stated share is left: with a wide range
the warning comes earlier, so that it does not come after the end."""


def _chance_used(rows: tuple[float, ...], share: float) -> float:
    """Probability that more than `share` is used; `rows[k]` is that of (k + 0.5) / 30."""
    place = min(max(round(30.0 * share - 0.5), 0), len(rows) - 1)
    return rows[place]


def _excess(now: Situation) -> float | None:
    estimate = now.estimate
    if estimate is None or estimate.remaining_l is None or estimate.used_share is None:
        return None
    limits = now.line.limits
    low = limits.litres_low_share
    over = [low - (1.0 - estimate.used_share.p50)]
    if estimate.used_rows:
        over.append(_chance_used(estimate.used_rows, 1.0 - low) - LIKELY)
    if limits.litres_low_l is not None:
        over.append((limits.litres_low_l - estimate.remaining_l.p50) / limits.litres_low_l)
    if limits.days_low > 0.0 and estimate.days_left is not None:
        over.append((limits.days_low - estimate.days_left.p50) / limits.days_low)
    return max(over)


RULE = Rule(
    name="capacity-low",
    priority=Priority.LOW,
    respond_within_s=7 * DAY_S,
    excess=_excess,
    numbers=numbers_left,
    on_delay_s=6 * HOUR_S,
    off_delay_s=2 * DAY_S,
    deadband=0.1,
    hidden_by=("breakthrough", "change-now"),
    quiet=frozenset((Quiet.WORK,)),
)
