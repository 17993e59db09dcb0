"""Rows of one site as they were received: readings, draws, estimates, alarms, what people did.

What was worked over at the site is sent again with higher numbers; which of two rows holds is
decided by the reader, so rows are given with their place in the order of their coming.
"""

from __future__ import annotations

import msgspec
from sqlalchemy import Connection, func, select

from firmware_bridge.fleet.records.bodies import unpacked
from firmware_bridge.fleet.records.tables import chunks, events, names
from firmware_bridge.forward.payloads import BatchRow

FAR_MS = 1 << 60

_row = msgspec.json.Decoder(BatchRow)


class Told(msgspec.Struct, frozen=True, kw_only=True):
    """An entry of a site's logbook as it came; `who` is None where the name was erased."""

    era: int
    seq: int
    line: str
    row: BatchRow
    who: str | None


def rows_of(
    connection: Connection, site_no: int, line: str | None, kind: str, from_ms: int, to_ms: int
) -> list[tuple[int, str, BatchRow]]:
    """Rows of a kind at instants in [from_ms, to_ms), each with its era and line, in the order of
    era and number; of one line, or of all."""
    columns = (chunks.c.era, chunks.c.line, chunks.c.body)
    asked = select(*columns).where(
        chunks.c.site_no == site_no,
        chunks.c.kind == kind,
        chunks.c.to_ms >= from_ms,
        chunks.c.from_ms < to_ms,
    )
    if line is not None:
        asked = asked.where(chunks.c.line == line)
    found = [
        (era, of_line, row)
        for era, of_line, body in connection.execute(asked)
        for row in unpacked(body)
        if from_ms <= row.at_ms < to_ms
    ]
    return sorted(found, key=lambda one: (one[0], one[2].seq))


def spans_of(
    connection: Connection, site_no: int, line: str, kind: str, from_ms: int, to_ms: int
) -> list[tuple[int, int]]:
    """From when to when each parcel of rows reaches, in order of time: when word came, without
    opening any."""
    asked = (
        select(chunks.c.from_ms, chunks.c.to_ms)
        .where(
            chunks.c.site_no == site_no,
            chunks.c.line == line,
            chunks.c.kind == kind,
            chunks.c.to_ms >= from_ms,
            chunks.c.from_ms < to_ms,
        )
        .order_by(chunks.c.from_ms)
    )
    return [(first, last) for first, last in connection.execute(asked)]


def reach_of(connection: Connection, site_no: int, line: str) -> tuple[int, int] | None:
    """Instants of the first and the newest row of a line's meters."""
    asked = select(func.min(chunks.c.from_ms), func.max(chunks.c.to_ms)).where(
        chunks.c.site_no == site_no,
        chunks.c.line == line,
        chunks.c.kind.in_(("reading", "draw")),
    )
    first, last = connection.execute(asked).one()
    return None if first is None else (first, last)


def events_of(connection: Connection, site_no: int) -> list[Told]:
    """The logbook of a site in the order it was written."""
    columns = (events.c.era, events.c.seq, events.c.line, events.c.body, names.c.name,
               names.c.erased_ms, events.c.name_no)  # fmt: skip
    asked = (
        select(*columns)
        .join_from(events, names, events.c.name_no == names.c.name_no, isouter=True)
        .where(events.c.site_no == site_no)
        .order_by(events.c.era, events.c.seq)
    )
    return [
        Told(
            era=era,
            seq=seq,
            line=line,
            row=_row.decode(body),
            who="" if name_no is None else None if erased is not None else name,
        )
        for era, seq, line, body, name, erased, name_no in connection.execute(asked)
    ]
