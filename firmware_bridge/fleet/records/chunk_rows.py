"""Rows of one line and kind as they are kept, a page at a time."""

from __future__ import annotations

from collections.abc import Iterator

import msgspec
from sqlalchemy import Connection, select

from firmware_bridge.fleet.records.bodies import unpacked
from firmware_bridge.fleet.records.tables import chunks
from firmware_bridge.forward.payloads import BatchRow

AT_ONCE = 50
MOST_CHUNKS = 1000
"""Chunks that are opened for one page; a page that ends for it may have fewer rows than asked."""

Place = tuple[int, int]
"""Number of a chunk, and how many of its rows are behind."""


class Wanted(msgspec.Struct, frozen=True, kw_only=True):
    """Rows of one line and kind of a site within a span; both ends count."""

    site_no: int
    line: str
    kind: str
    from_ms: int
    to_ms: int


def page_of(
    connection: Connection, wanted: Wanted, after: Place, limit: int
) -> tuple[list[BatchRow], Place | None]:
    """At most `limit` rows behind `after`, in the order of their coming, and where to go on."""
    found: list[BatchRow] = []
    opened, (last, behind) = 0, after
    for number, body in _chunks(connection, wanted, after):
        skipped = behind if number == last else 0
        if opened == MOST_CHUNKS:
            return found, (number, skipped)
        opened += 1
        rows = list(unpacked(body))
        for place, row in enumerate(rows[skipped:], skipped):
            if not wanted.from_ms <= row.at_ms <= wanted.to_ms:
                continue
            if len(found) == limit:
                return found, (number, place)
            found.append(row)
    return found, None


def _chunks(connection: Connection, wanted: Wanted, after: Place) -> Iterator[tuple[int, bytes]]:
    """Chunks from that of `after` on which may hold rows of the span, some at a time."""
    first = after[0]
    while True:
        asked = (
            select(chunks.c.chunk_no, chunks.c.body)
            .where(chunks.c.site_no == wanted.site_no, chunks.c.line == wanted.line)
            .where(chunks.c.kind == wanted.kind, chunks.c.chunk_no >= first)
            .where(chunks.c.to_ms >= wanted.from_ms, chunks.c.from_ms <= wanted.to_ms)
            .order_by(chunks.c.chunk_no)
            .limit(AT_ONCE)
        )
        some = [(int(number), bytes(body)) for number, body in connection.execute(asked)]
        yield from some
        if len(some) < AT_ONCE:
            return
        first = some[-1][0] + 1
