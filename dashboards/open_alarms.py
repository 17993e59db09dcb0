"""Which alarms are not normal, folded from their stored changes."""

from __future__ import annotations

from collections.abc import Iterable

import msgspec

from analytics.samples import AlarmChange, Shelved

PRIORITY_ORDER = {"high": 0, "medium": 1, "low": 2}


def open_alarms(
    changes: Iterable[AlarmChange], shelved: Iterable[Shelved], now_ms: int
) -> tuple[AlarmChange, ...]:
    """Each alarm that is not normal, with the instant and text of its raising.

    `change` becomes how it stands now: raised (not acknowledged), acknowledged, cleared (returned
    to normal, not acknowledged) or shelved. The highest priority comes first, then the newest.
    """
    standing: dict[str, AlarmChange] = {}
    for change in changes:
        after = _after(standing.get(change.alarm), change)
        if after is None:
            standing.pop(change.alarm, None)
        else:
            standing[change.alarm] = after
    for shelf in shelved:
        on_shelf = standing.get(shelf.alarm)
        if on_shelf is not None and shelf.at_ms <= now_ms < shelf.until_ms:
            standing[shelf.alarm] = msgspec.structs.replace(on_shelf, change="shelved")
    return tuple(sorted(standing.values(), key=_rank))


def _after(before: AlarmChange | None, change: AlarmChange) -> AlarmChange | None:
    """How an alarm stands after a change; None is normal."""
    if change.change == "raised":
        return change
    if before is None or change.change == "shelved":
        return before
    both = {before.change, change.change}
    if both == {"acknowledged", "cleared"}:
        return None
    return msgspec.structs.replace(before, change=change.change)


def _rank(alarm: AlarmChange) -> tuple[int, int]:
    return PRIORITY_ORDER.get(alarm.priority, 3), -alarm.at_ms
