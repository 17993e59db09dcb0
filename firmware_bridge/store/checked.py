"""Which records of a damaged database are whole enough to be kept."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import msgspec

from analytics.errors import LastLitreError
from analytics.samples import DRAW_COLUMNS, DRAW_WHOLE
from firmware_bridge.store import alarms, estimates, events
from firmware_bridge.store.readings import unpacked
from firmware_bridge.store.rollups import minutes_of

Record = tuple[Any, ...]
LATEST_MS = 1 << 43
"""Two and a half centuries after 1970."""
MOST_PULSES = 1 << 32
HIGHEST_NUMBER = 1 << 50
"""No site gives out so many numbers: a higher one is a flipped bit."""


class Sort(msgspec.Struct, frozen=True, kw_only=True):
    """A table to save: how many of its columns are its key (0: it has row numbers), and what a
    sound record is."""

    table: str
    key_columns: int = 0
    sound: Callable[[dict[str, Any]], bool]

    def holds(self, record: dict[str, Any]) -> bool:
        """Whether a record is sound; one that lacks a column is not."""
        try:
            return self.sound(record)
        except KeyError:
            return False


def _typed(**kinds: Any) -> Callable[[dict[str, Any]], bool]:
    """A check that the columns named hold values of these kinds."""

    def sound(record: dict[str, Any]) -> bool:
        return all(isinstance(record.get(name), kind) for name, kind in kinds.items())

    return sound


def _instant(value: Any) -> bool:
    return isinstance(value, int) and -LATEST_MS < value < LATEST_MS


def _number(value: Any) -> bool:
    return isinstance(value, int) and 0 < value < HIGHEST_NUMBER


def _draw(record: dict[str, Any]) -> bool:
    for name in DRAW_COLUMNS:
        value = record[name]
        if name in DRAW_WHOLE:
            if not isinstance(value, int):
                return False
        elif not (value is None or (isinstance(value, float) and math.isfinite(value))):
            return False
    in_order = record["start_ms"] <= record["end_ms"]
    named = isinstance(record["line_id"], str) and isinstance(record["cartridge_id"], str)
    pulses = 0 <= record["pulses"] < MOST_PULSES
    return _number(record["seq"]) and named and in_order and pulses and _instant(record["start_ms"])


def _event(record: dict[str, Any]) -> bool:
    there = _number(record["seq"]) and isinstance(record["body"], str)
    return there and _reads(events.decoded, record["body"])


def _estimate(record: dict[str, Any]) -> bool:
    there = _number(record["seq"]) and isinstance(record["body"], bytes)
    return there and _reads(estimates.decoded, record["body"])


def _block(record: dict[str, Any]) -> bool:
    whole = all(isinstance(record[name], int) for name in ("hour", "level", "rows", "unsure"))
    numbered = whole and _number(record["first_seq"]) and _number(record["last_seq"])
    packed = isinstance(record["meters"], bytes) and isinstance(record["numbers"], bytes)
    named = isinstance(record["line_id"], str)
    return numbered and packed and named and _reads(unpacked, record["meters"], record["numbers"])


def _alarm(record: dict[str, Any]) -> bool:
    words = ("line_id", "alarm", "change", "priority", "text", "more")
    dated = _number(record["seq"]) and _instant(record["at_ms"])
    if not dated or not all(isinstance(record[name], str) for name in words):
        return False
    more = record.get("more", "{}")
    told = (record[name] for name in ("at_ms", "alarm", "change", "priority", "text"))
    return isinstance(more, str) and _reads(alarms.change_of, *told, more)


def _minutes(record: dict[str, Any]) -> bool:
    return isinstance(record["minutes"], bytes) and _reads(minutes_of, record["minutes"])


def _reads(read: Callable[..., Any], *packed: Any) -> bool:
    try:
        read(*packed)
    except (LastLitreError, msgspec.MsgspecError, ValueError):
        return False
    return True


SORTS = (
    Sort(table="events", sound=_event),
    Sort(table="draws", sound=_draw),
    Sort(table="alarms", sound=_alarm),
    Sort(table="estimates", sound=_estimate),
    Sort(table="cursors", key_columns=1, sound=_typed(sink=str, up_to_seq=int)),
    Sort(table="notices", key_columns=2, sound=_typed(notifier=str, key=str, at_ms=int)),
    Sort(table="counters", key_columns=1, sound=_typed(name=str, value=int)),
    Sort(table="hosts", sound=_typed(host=str, base_ms=int, last_ms=int)),
    Sort(table="boots", sound=_typed(line_id=str, boot_id=int, done_up_to=int, ahead=str)),
    Sort(
        table="thinned",
        key_columns=1,
        sound=_typed(line_id=str, rows_from_hour=int, minutes_from_hour=int),
    ),
    Sort(table="rejected", key_columns=2, sound=_typed(sink=str, seq=int, reason=str, row=str)),
    Sort(table="notices", key_columns=2, sound=_typed(notifier=str, key=str, at_ms=int)),
    Sort(table="snapshots", sound=_typed(line_id=str, at_ms=int, state=bytes)),
    Sort(
        table="hourly",
        key_columns=3,
        sound=_typed(line_id=str, channel=str, hour=int, low=float, high=float, total=float),
    ),
    Sort(table="minutely", key_columns=3, sound=_minutes),
    Sort(table="blocks", sound=_block),
)
"""What is saved, what matters most first."""
