"""The record was damaged and has been mended: somebody should look at the disk."""

from __future__ import annotations

from analytics.alarm import DAY_S, Priority, Rule, Situation, active_if
from analytics.samples import DAY_MS

STANDS_MS = 7 * DAY_MS
"""So long after it was mended; a disk that fails does so again."""


def _excess(now: Situation) -> float | None:
    if now.host is None:
        return None
    at = now.host.rescued_ms
    return active_if(at is not None and now.at_ms - at < STANDS_MS)


RULE = Rule(
    name="record-damaged",
    priority=Priority.MEDIUM,
    respond_within_s=7 * DAY_S,
    excess=_excess,
    of_site=True,
)
