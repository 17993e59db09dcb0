"""The box has little room left to write."""

from __future__ import annotations

from analytics.alarm import DAY_S, Priority, Rule, Situation


def _excess(now: Situation) -> float | None:
    """Megabytes short of the limit; a file that takes no more is as bad as it gets."""
    if now.host is None:
        return None
    if now.host.store_full:
        return max(now.host.limits.disk_free_mb, 1.0)
    free = now.host.disk_free_mb
    return None if free is None else now.host.limits.disk_free_mb - free


def _numbers(now: Situation) -> dict[str, float]:
    if now.host is None or now.host.disk_free_mb is None:
        return {}
    return {"free_mb": now.host.disk_free_mb, "limit_mb": now.host.limits.disk_free_mb}


def _word(now: Situation) -> str:
    return "full" if now.host is not None and now.host.store_full else "low"


RULE = Rule(
    name="disk-low",
    priority=Priority.MEDIUM,
    respond_within_s=DAY_S,
    excess=_excess,
    numbers=_numbers,
    word=_word,
    on_delay_s=60.0,
    off_delay_s=600.0,
    deadband=50.0,
    of_site=True,
)
