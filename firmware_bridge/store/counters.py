"""Counters of everything that was refused, lost or doubled, for the life of the site."""

from __future__ import annotations

import sqlite3


def add(connection: sqlite3.Connection, counts: dict[str, int]) -> None:
    """Add to counters; a new name begins at 0."""
    connection.executemany(
        "INSERT INTO counters (name, value) VALUES (?, ?) "
        "ON CONFLICT (name) DO UPDATE SET value = value + excluded.value",
        sorted((name, by) for name, by in counts.items() if by),
    )


def all_counters(connection: sqlite3.Connection) -> dict[str, int]:
    """Every counter by name."""
    return dict(connection.execute("SELECT name, value FROM counters ORDER BY name"))
