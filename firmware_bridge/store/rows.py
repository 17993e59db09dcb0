"""Rows read back: by line and time, in order, whatever they are packed in."""

from __future__ import annotations

import sqlite3

import numpy as np

from analytics.samples import HOUR_MS, ROW_COLUMNS, Rows, no_rows
from firmware_bridge.store.blocks import rows_at, unpack_rows


def lines(connection: sqlite3.Connection) -> tuple[str, ...]:
    """The lines that have readings, by name."""
    found = connection.execute(
        "SELECT line_id FROM blocks UNION SELECT line_id FROM thinned ORDER BY line_id"
    )
    return tuple(line for (line,) in found)


def rows_from_ms(connection: sqlite3.Connection, line_id: str) -> int:
    """Rows of the line before this instant have been thinned; 0: none."""
    found = connection.execute(
        "SELECT rows_from_hour FROM thinned WHERE line_id = ?", (line_id,)
    ).fetchone()
    return int(found[0]) * HOUR_MS if found else 0


def rows_of(connection: sqlite3.Connection, line_id: str, from_ms: int, to_ms: int) -> Rows:
    """Rows of the line in [from_ms, to_ms), in order of time."""
    found = connection.execute(
        "SELECT hour, meters FROM blocks WHERE line_id = ? AND hour >= ? AND hour <= ? "
        "ORDER BY hour, level DESC, block_no",
        (line_id, from_ms // HOUR_MS, (to_ms - 1) // HOUR_MS),
    )
    return cut_to(joined([unpack_rows(meters) for _, meters in found]), from_ms, to_ms)


def next_hour(
    connection: sqlite3.Connection, line_id: str, from_hour: int, to_hour: int
) -> tuple[int, Rows] | None:
    """The first hour from `from_hour` to `to_hour` (included) that has rows, with them."""
    (hour,) = connection.execute(
        "SELECT min(hour) FROM blocks WHERE line_id = ? AND hour >= ? AND hour <= ?",
        (line_id, from_hour, to_hour),
    ).fetchone()
    if hour is None:
        return None
    return int(hour), rows_of(connection, line_id, hour * HOUR_MS, (hour + 1) * HOUR_MS)


def span(connection: sqlite3.Connection, line_id: str) -> tuple[int, int] | None:
    """The instants of the line's first and last row; None without rows."""
    first, last = connection.execute(
        "SELECT min(hour), max(hour) FROM blocks WHERE line_id = ?", (line_id,)
    ).fetchone()
    if first is None:
        return None
    head = rows_of(connection, line_id, first * HOUR_MS, (first + 1) * HOUR_MS)
    end = rows_of(connection, line_id, last * HOUR_MS, (last + 1) * HOUR_MS)
    return int(head.at_ms[0]), int(end.at_ms[-1])


def joined(parts: list[Rows]) -> Rows:
    """One block of all, sorted by instant; rows of one instant stay in the order they were in."""
    if not parts:
        return no_rows()
    if len(parts) == 1:
        return parts[0]
    rows = Rows(**{n: np.concatenate([getattr(part, n) for part in parts]) for n in ROW_COLUMNS})
    if (np.diff(rows.at_ms) >= 0).all():
        return rows
    return rows_at(rows, np.argsort(rows.at_ms, kind="stable"))


def cut_to(rows: Rows, from_ms: int, to_ms: int) -> Rows:
    """The rows in [from_ms, to_ms)."""
    start, stop = np.searchsorted(rows.at_ms, (from_ms, to_ms))
    if start == 0 and stop == len(rows):
        return rows
    return rows.cut(int(start), int(stop))
