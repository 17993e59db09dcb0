"""Readings by age: as they came, packed by the hour, values by the minute, none. The rest stays.

    younger than two days    a chunk a message or so
    then                     a chunk an hour, the same rows: a sixtieth of the entries, two thirds
                             of the room (measured: 14 bytes a row become 12, and the indexes go)
    older than keep_readings a chunk a day, means over a minute (pulses summed, flags joined)
    older than keep_minutes  gone

It goes by whole days of one line. A chunk that takes others in keeps its own number and has the
numbers of their ends, so that what was held stays known. What a time-series store has not been sent
twice waits.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby
from typing import Any

import msgspec
from sqlalchemy import Connection, delete, select, update

from analytics.samples import DAY_MS, HOUR_MS, MINUTE_MS
from firmware_bridge.fleet.config import Keep
from firmware_bridge.fleet.records.bodies import encoded, packed, unpacked
from firmware_bridge.fleet.records.engine import Records
from firmware_bridge.fleet.records.tables import chunks
from firmware_bridge.forward.payloads import BatchRow

AT_ONCE = 500
SUMMED = ("pulses",)
AS_IT_CAME, PACKED = 0, 1
"""Grains of a chunk whose rows are all there; a thinned one has its grain in milliseconds."""
PACK_AFTER_MS = 2 * DAY_MS
SERIES_MARK = "series up to"
"""Where the feeder of a time-series store notes how far it is."""

_reading = chunks.c.kind == "reading"


def thin(records: Records, keep: Keep, now_ms: int) -> int:
    """One step: what is due of one line and day; how many chunks were gone through."""
    with records.begin() as connection:
        gone_ms = now_ms - round(keep.minutes_days * DAY_MS)
        if gone := _forget(records, connection, gone_ms):
            return gone
        carried = records.mark(connection, SERIES_MARK)
        old_ms = _day(now_ms - round(keep.readings_days * DAY_MS))
        if due := _due(connection, (AS_IT_CAME, PACKED), old_ms, carried):
            _rewrite(records, connection, due, DAY_MS, MINUTE_MS)
        elif due := _due(connection, (AS_IT_CAME,), _day(now_ms - PACK_AFTER_MS), carried):
            _rewrite(records, connection, due, HOUR_MS, PACKED)
        return len(due)


def by_the_minute(rows: Sequence[BatchRow]) -> list[BatchRow]:
    """Means over each minute, in the order of time, under the number of its last row."""
    ordered = sorted(rows, key=lambda row: (row.at_ms, row.seq))
    return [_mean(list(some)) for _, some in groupby(ordered, key=lambda r: r.at_ms // MINUTE_MS)]


def _day(at_ms: int) -> int:
    return at_ms // DAY_MS * DAY_MS


def _forget(records: Records, connection: Connection, before_ms: int) -> int:
    grains = chunks.c.grain_ms.in_((AS_IT_CAME, PACKED, MINUTE_MS))
    past = select(chunks.c.chunk_no).where(_reading, grains, chunks.c.to_ms < before_ms)
    gone = list(connection.scalars(past.limit(AT_ONCE)))
    connection.execute(delete(chunks).where(records.among(chunks.c.chunk_no, gone)))
    return len(gone)


def _due(
    connection: Connection, grains: tuple[int, ...], before_ms: int, carried: str
) -> list[Any]:
    """The chunks of the oldest line and day that ended before an instant."""
    may = _reading & chunks.c.grain_ms.in_(grains) & (chunks.c.to_ms < before_ms)
    if carried:
        may &= chunks.c.chunk_no <= int(carried)
    columns = (chunks.c.site_no, chunks.c.line, chunks.c.era, chunks.c.to_ms)
    oldest = connection.execute(
        select(*columns).where(may).order_by(chunks.c.grain_ms, chunks.c.to_ms).limit(1)
    ).first()
    if oldest is None:
        return []
    site_no, line, era, to_ms = oldest
    begin_ms = _day(to_ms)
    of_line = (chunks.c.site_no == site_no) & (chunks.c.line == line) & (chunks.c.era == era)
    day = chunks.c.to_ms.between(begin_ms, begin_ms + DAY_MS - 1)
    asked = select(chunks).where(may, of_line, day).order_by(chunks.c.to_ms)
    return list(connection.execute(asked))


def _rewrite(
    records: Records, connection: Connection, due: Sequence[Any], span_ms: int, grain_ms: int
) -> None:
    """Chunks of one line become one for each span; the first of each takes the others in."""
    for _, some in groupby(due, key=lambda chunk: chunk.to_ms // span_ms):
        first, *others = list(some)
        together = (first, *others)
        rows = [row for chunk in together for row in unpacked(chunk.body)]
        if grain_ms == MINUTE_MS:
            rows = by_the_minute(rows)
        new = {
            "first": min(chunk.first for chunk in together),
            "last": max(chunk.last for chunk in together),
            "from_ms": min(chunk.from_ms for chunk in together),
            "to_ms": max(chunk.to_ms for chunk in together),
            "rows": len(rows),
            "body": packed([encoded(rows)]),
            "grain_ms": grain_ms,
        }
        here = chunks.c.chunk_no == first.chunk_no
        connection.execute(update(chunks).where(here).values(new))
        merged = [chunk.chunk_no for chunk in others]
        if merged:
            connection.execute(delete(chunks).where(records.among(chunks.c.chunk_no, merged)))


def _mean(rows: list[BatchRow]) -> BatchRow:
    numbers: dict[str, float] = {}
    for name in {name for row in rows for name in row.numbers}:
        values = [row.numbers[name] for row in rows if name in row.numbers]
        if name == "flags":
            joined = 0
            for value in values:
                joined |= int(value)
            numbers[name] = joined
        else:
            total = sum(values)
            numbers[name] = total if name in SUMMED else total / len(values)
    return msgspec.structs.replace(rows[-1], numbers=dict(sorted(numbers.items())))
