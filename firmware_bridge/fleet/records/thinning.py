"""Readings by age: as they came, then values by the minute, then none. Everything else is kept.

A chunk that was thinned keeps the numbers of its ends, so that what was held stays known; its rows
are means over a minute (pulses are summed, flags joined), each under the number of the minute's
last row.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby

import msgspec
from sqlalchemy import delete, select, update

from analytics.samples import DAY_MS, MINUTE_MS
from firmware_bridge.fleet.config import Keep
from firmware_bridge.fleet.records.bodies import encoded, packed, unpacked
from firmware_bridge.fleet.records.engine import Records
from firmware_bridge.fleet.records.tables import chunks
from firmware_bridge.forward.payloads import BatchRow

AT_ONCE = 200
SUMMED = ("pulses",)


def thin(records: Records, keep: Keep, now_ms: int) -> int:
    """One step: the oldest chunks that are due, at most so many; how many these were."""
    old_ms = now_ms - round(keep.readings_days * DAY_MS)
    gone_ms = now_ms - round(keep.minutes_days * DAY_MS)
    reading = chunks.c.kind == "reading"
    with records.begin() as connection:
        past = select(chunks.c.chunk_no).where(
            reading, chunks.c.grain_ms.in_((0, MINUTE_MS)), chunks.c.to_ms < gone_ms
        )
        gone = list(connection.scalars(past.limit(AT_ONCE)))
        if gone:
            connection.execute(delete(chunks).where(records.among(chunks.c.chunk_no, gone)))
        due = select(chunks.c.chunk_no, chunks.c.body).where(
            reading, chunks.c.grain_ms == 0, chunks.c.to_ms < old_ms
        )
        found = connection.execute(due.limit(AT_ONCE)).all()
        for number, body in found:
            rows = by_the_minute(unpacked(body))
            new = {"body": packed([encoded(rows)]), "rows": len(rows), "grain_ms": MINUTE_MS}
            connection.execute(update(chunks).where(chunks.c.chunk_no == number).values(new))
    return len(gone) + len(found)


def by_the_minute(rows: Sequence[BatchRow]) -> list[BatchRow]:
    """Means over each minute, in the order of time."""
    ordered = sorted(rows, key=lambda row: (row.at_ms, row.seq))
    return [_mean(list(some)) for _, some in groupby(ordered, key=lambda r: r.at_ms // MINUTE_MS)]


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
