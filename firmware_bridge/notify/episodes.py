"""From the journal of alarms to episodes: from a raising to its end, and how it was seen to."""

from __future__ import annotations

from collections.abc import Iterable

import msgspec

from analytics.alarm_life import Phase
from analytics.samples import DAY_MS, AlarmChange
from firmware_bridge.store.alarms import KnownChange

ANNOUNCED = Phase.UNACKNOWLEDGED.value
HIDDEN = (Phase.SHELVED.value, Phase.SUPPRESSED.value, Phase.OUT_OF_SERVICE.value)
FORGOTTEN_MS = 3 * DAY_MS
"""An episode that ended longer ago is not told any more."""


class Episode(msgspec.Struct, frozen=True, kw_only=True):
    """One alarm from its raising (row `seq` of the site) on. `hidden`: it was set aside."""

    seq: int
    line_id: str
    change: AlarmChange
    seen: bool = False
    hidden: bool = False
    ended_ms: int | None = None
    ended_seq: int = 0

    @property
    def where(self) -> tuple[str, str]:
        """Line and alarm."""
        return self.line_id, self.change.alarm


class Episodes(msgspec.Struct, frozen=True, kw_only=True):
    """All episodes that may still be told of, and the last row taken in."""

    running: dict[tuple[str, str], Episode] = {}
    ended: tuple[Episode, ...] = ()
    up_to_seq: int = 0


def taken_in(episodes: Episodes, changes: Iterable[KnownChange]) -> Episodes:
    """The episodes after these changes of the journal, in the order they were stored."""
    running, ended = dict(episodes.running), list(episodes.ended)
    up_to, newest_ms = episodes.up_to_seq, 0
    for known in changes:
        up_to, newest_ms = max(up_to, known.seq), max(newest_ms, known.change.at_ms)
        where = known.line_id, known.change.alarm
        after = _after(running.pop(where, None), known)
        if after is not None and after.ended_ms is None:
            running[where] = after
        elif after is not None:
            ended.append(after)
    kept = tuple(e for e in ended if (e.ended_ms or 0) > newest_ms - FORGOTTEN_MS)
    return Episodes(running=running, ended=kept, up_to_seq=up_to)


def _after(before: Episode | None, known: KnownChange) -> Episode | None:
    change = known.change
    state = change.state or ("" if change.change != "raised" else ANNOUNCED)
    if state == ANNOUNCED:
        if before is None:
            return Episode(seq=known.seq, line_id=known.line_id, change=change)
        return msgspec.structs.replace(before, hidden=False, seen=False)
    if before is None:
        return None
    if state in HIDDEN:
        return msgspec.structs.replace(before, hidden=True)
    if state == Phase.ACKNOWLEDGED.value or change.change == "acknowledged":
        return msgspec.structs.replace(before, seen=True)
    return msgspec.structs.replace(before, ended_ms=change.at_ms, ended_seq=known.seq)
