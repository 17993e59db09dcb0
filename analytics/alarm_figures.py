"""An alarm system measured by its journal, as ISA-18.2 / IEC 62682 and EEMUA 191 measure one.

Targets for one operator, from memory of those documents: at most 144-150 annunciations a day, no
flood (more than 10 in 10 minutes) in 99 % of the time, no chattering (3 raisings in 60 s), fewer
than 5 stale alarms (standing for more than a day) on any day, priorities near 80 / 15 / 5 %.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from typing import Final

import msgspec

from analytics.alarm_life import STANDING, Phase
from analytics.samples import DAY_MS, MINUTE_MS, AlarmChange

ANNUNCIATING: Final = ("raised", "unsuppressed", "unshelved", "in-service")
FLOOD: Final = 10
FLOOD_MS: Final = 10 * MINUTE_MS
CHATTER: Final = 3
CHATTER_MS: Final = MINUTE_MS
FLEETING_MS: Final = MINUTE_MS
STALE_MS: Final = DAY_MS


class AlarmFigures(msgspec.Struct, frozen=True, kw_only=True):
    """What a journal over some days amounts to; alarms are annunciations."""

    days: float
    alarms: int
    most_a_day: int
    most_in_ten_minutes: int
    chattering: int
    fleeting: int
    most_stale: int
    by_priority: dict[str, int]
    by_alarm: dict[str, int]

    @property
    def a_day(self) -> float:
        """Annunciations a day."""
        return self.alarms / self.days if self.days else 0.0

    def share(self, priority: str) -> float:
        """Share of a priority among all annunciations."""
        return self.by_priority.get(priority, 0) / self.alarms if self.alarms else 0.0


def figures(changes: Sequence[AlarmChange], begin_ms: int, end_ms: int) -> AlarmFigures:
    """Measure the journal of one line (or box) between two instants."""
    rung = [c for c in changes if is_annunciation(c)]
    at = [c.at_ms for c in rung]
    return AlarmFigures(
        days=(end_ms - begin_ms) / DAY_MS,
        alarms=len(rung),
        most_a_day=_most_within(at, DAY_MS),
        most_in_ten_minutes=_most_within(at, FLOOD_MS),
        chattering=_chattering(rung),
        fleeting=_fleeting(changes),
        most_stale=_most_stale(changes, end_ms),
        by_priority=dict(Counter(c.priority for c in rung)),
        by_alarm=dict(Counter(c.alarm for c in rung).most_common()),
    )


def is_annunciation(change: AlarmChange) -> bool:
    """Whether a change asks for somebody's attention anew."""
    return change.change in ANNUNCIATING and change.state == Phase.UNACKNOWLEDGED.value


def together(many: Iterable[AlarmFigures]) -> AlarmFigures:
    """Several journals as one: sums, and the worst of each."""
    every = list(many)
    return AlarmFigures(
        days=sum(f.days for f in every),
        alarms=sum(f.alarms for f in every),
        most_a_day=max(f.most_a_day for f in every),
        most_in_ten_minutes=max(f.most_in_ten_minutes for f in every),
        chattering=sum(f.chattering for f in every),
        fleeting=sum(f.fleeting for f in every),
        most_stale=max(f.most_stale for f in every),
        by_priority=dict(sum((Counter(f.by_priority) for f in every), Counter())),
        by_alarm=dict(sum((Counter(f.by_alarm) for f in every), Counter()).most_common()),
    )


def _most_within(at: Sequence[int], span_ms: int) -> int:
    """Most instants within any span of this length."""
    most = first = 0
    for last in range(len(at)):
        while at[last] - at[first] >= span_ms:
            first += 1
        most = max(most, last - first + 1)
    return most


def _chattering(rung: Sequence[AlarmChange]) -> int:
    """Alarms that were raised three times within a minute."""
    by_name: dict[str, list[int]] = {}
    for change in rung:
        by_name.setdefault(change.alarm, []).append(change.at_ms)
    return sum(_most_within(at, CHATTER_MS) >= CHATTER for at in by_name.values())


def _fleeting(changes: Sequence[AlarmChange]) -> int:
    """Alarms that were gone again before anybody could have come."""
    raised: dict[str, int] = {}
    gone = 0
    for change in changes:
        if is_annunciation(change):
            raised[change.alarm] = change.at_ms
        elif change.change == "cleared" and change.alarm in raised:
            gone += change.at_ms - raised.pop(change.alarm) < FLEETING_MS
    return gone


def _most_stale(changes: Sequence[AlarmChange], end_ms: int) -> int:
    """Most alarms that stood for more than a day at one time."""
    since: dict[str, int] = {}
    edges: list[tuple[int, int]] = []
    for change in (*changes, *_ends(changes, end_ms)):
        stands = change.state in STANDING
        begun = since.get(change.alarm)
        if stands and begun is None:
            since[change.alarm] = change.at_ms
        elif not stands and begun is not None:
            del since[change.alarm]
            if change.at_ms - begun > STALE_MS:
                edges += [(begun + STALE_MS, 1), (change.at_ms, -1)]
    standing = most = 0
    for _, step in sorted(edges):
        standing += step
        most = max(most, standing)
    return most


def _ends(changes: Sequence[AlarmChange], end_ms: int) -> list[AlarmChange]:
    """Whatever stands ends with the journal."""
    names = dict.fromkeys(c.alarm for c in changes)
    return [
        AlarmChange(at_ms=end_ms, alarm=name, change="cleared", priority="", state="normal")
        for name in names
    ]
