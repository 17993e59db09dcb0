"""The cartridge nears the end of its capacity: order and plan the change."""

from __future__ import annotations

from analytics.alarm import Priority, Rule, Situation

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
    return max(over)


def _text(now: Situation) -> str:
    left = None if now.estimate is None else now.estimate.remaining_l
    if left is None:
        return "The cartridge nears its end."
    return f"About {left.p50:.0f} L left ({left.p05:.0f}–{left.p95:.0f})."


RULE = Rule(
    name="capacity-low",
    priority=Priority.MEDIUM,
    cause="The cartridge has taken most of what it can take.",
    consequence="Hardness comes back within days to weeks.",
    response="Have the next cartridge at hand and plan the change.",
    respond_within="1 week",
    excess=_excess,
    text=_text,
    deadband=0.05,
    off_delay_s=86_400.0,
)
