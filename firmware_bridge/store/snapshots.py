"""Snapshots of the pipeline's state: the last few of each line, and one a week."""

from __future__ import annotations

import sqlite3

from analytics.samples import DAY_MS
from firmware_bridge.store.packing import squeeze, unsqueeze

LAST_KEPT = 3
WEEKS_KEPT = 60
WEEK_MS = 7 * DAY_MS


def append(connection: sqlite3.Connection, line_id: str, at_ms: int, state: bytes) -> None:
    """Keep a snapshot, and drop those that are no longer worth their room."""
    connection.execute(
        "INSERT OR REPLACE INTO snapshots (line_id, at_ms, state) VALUES (?, ?, ?)",
        (line_id, at_ms, squeeze(state)),
    )
    held = [
        at
        for (at,) in connection.execute(
            "SELECT at_ms FROM snapshots WHERE line_id = ? ORDER BY at_ms DESC", (line_id,)
        )
    ]
    kept = worth_keeping(held)
    connection.executemany(
        "DELETE FROM snapshots WHERE line_id = ? AND at_ms = ?",
        [(line_id, at) for at in held if at not in kept],
    )


def worth_keeping(newest_first: list[int]) -> set[int]:
    """The last few, and the first of every week of the last sixty weeks."""
    first_of_week = {at // WEEK_MS: at for at in newest_first}
    weeks = sorted(first_of_week, reverse=True)[:WEEKS_KEPT]
    return {*newest_first[:LAST_KEPT], *(first_of_week[week] for week in weeks)}


def forget(connection: sqlite3.Connection, line_id: str, from_ms: int) -> None:
    """Drop the snapshots of the line at or after an instant."""
    connection.execute("DELETE FROM snapshots WHERE line_id = ? AND at_ms >= ?", (line_id, from_ms))


def before(connection: sqlite3.Connection, line_id: str, at_ms: int) -> tuple[int, bytes] | None:
    """The newest snapshot at or before an instant: (its instant, the state's bytes)."""
    found = connection.execute(
        "SELECT at_ms, state FROM snapshots WHERE line_id = ? AND at_ms <= ? "
        "ORDER BY at_ms DESC LIMIT 1",
        (line_id, at_ms),
    ).fetchone()
    return (int(found[0]), unsqueeze(found[1])) if found else None
