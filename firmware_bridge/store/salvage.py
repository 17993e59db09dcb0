"""Reading what can be read of a damaged database, table by table.

A damaged page ends a walk along a table with an error. So a table is walked from both ends, and
what lies between is entered again and again at places between, until nothing more is found or
the patience is used up.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from typing import Any

PATIENCE = 400
"""Entries into the damaged part of one table at most."""
NARROW = 4
FAR = (1 << 62) - 1

Record = tuple[Any, ...]


class Table:
    """A table of a damaged database. `faults` counts the walks that ended in an error."""

    def __init__(self, connection: sqlite3.Connection, name: str, columns: tuple[str, ...]) -> None:
        self.name = name
        self.columns = columns
        self.faults = 0
        self._connection = connection
        self._entries = 0

    def by_number(self) -> Iterator[Record]:
        """Rows of a table that has row numbers, each once, in no promised order."""
        yield from self._between(-1, FAR)

    def by_key(self, key_columns: int) -> Iterator[Record]:
        """Rows of a table kept by its first columns, from both ends."""
        order = ", ".join(self.columns[:key_columns])
        seen: set[Record] = set()
        for way in ("ASC", "DESC"):
            ways = ", ".join(f"{name} {way}" for name in order.split(", "))
            before = self.faults
            for record in self._walk(f"SELECT {self._names()} FROM {self.name} ORDER BY {ways}"):
                if record[:key_columns] in seen:
                    break
                seen.add(record[:key_columns])
                yield record
            if self.faults == before:
                return

    def _between(self, low: int, high: int) -> Iterator[Record]:
        """Rows numbered in (low, high): from below, from above, then the gap in two halves."""
        pending = [(low, high)]
        while pending and self._entries < PATIENCE:
            low, high = pending.pop()
            faults = self.faults
            for number, *record in self._numbered(low, high, "ASC"):
                low = number
                yield tuple(record)
            if self.faults == faults:
                continue
            for number, *record in self._numbered(low, high, "DESC"):
                high = number
                yield tuple(record)
            pending += _halves(low, high)

    def _numbered(self, low: int, high: int, way: str) -> Iterator[Record]:
        yield from self._walk(
            f"SELECT rowid, {self._names()} FROM {self.name} "
            f"WHERE rowid > {low} AND rowid < {high} ORDER BY rowid {way}"
        )

    def _walk(self, sql: str) -> Iterator[Record]:
        self._entries += 1
        try:
            yield from self._connection.execute(sql)
        except sqlite3.Error:
            self.faults += 1

    def _names(self) -> str:
        return ", ".join(self.columns)


def _halves(low: int, high: int) -> list[tuple[int, int]]:
    """Two parts of a gap, the upper one first to be tried last; an open end is felt for."""
    if high - low <= NARROW:
        return []
    if high >= FAR:
        steps = [low + (1 << k) for k in range(4, 40, 2)]
        return [(at, FAR if at is steps[-1] else at + (at - low) * 3) for at in reversed(steps)]
    middle = (low + high) // 2
    return [(middle, high), (low, middle + 1)]
