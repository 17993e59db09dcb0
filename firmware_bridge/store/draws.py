"""Draws: kept for ever, one row each."""

from __future__ import annotations

import sqlite3
from typing import Any

import numpy as np

from analytics.samples import DRAW_COLUMNS, DRAW_WHOLE, Draws
from firmware_bridge.store.ledger import Ledger

COLUMNS = ", ".join(DRAW_COLUMNS)
_INSERT = (
    f"INSERT INTO draws (seq, line_id, cartridge_id, {COLUMNS}) "
    f"VALUES (?, ?, ?{', ?' * len(DRAW_COLUMNS)})"
)


def append(
    connection: sqlite3.Connection, ledger: Ledger, line_id: str, cartridge_id: str, draws: Draws
) -> None:
    """Store draws; one that begins at an instant already stored for the line is a double.

    Doubles come when the pipeline runs again over rows it had seen before a restart.
    """
    columns = [getattr(draws, name).tolist() for name in DRAW_COLUMNS]
    for figures in zip(*columns, strict=True):
        known = connection.execute(
            "SELECT 1 FROM draws WHERE line_id = ? AND start_ms = ?", (line_id, figures[0])
        ).fetchone()
        if known:
            ledger.count("draws_doubled")
        else:
            connection.execute(_INSERT, (ledger.take(1), line_id, cartridge_id, *figures))


def forget(connection: sqlite3.Connection, line_id: str, from_ms: int) -> None:
    """Drop the draws of the line that begin at or after an instant: they were worked over."""
    connection.execute("DELETE FROM draws WHERE line_id = ? AND start_ms >= ?", (line_id, from_ms))


def draws_of(
    connection: sqlite3.Connection,
    line_id: str,
    from_ms: int,
    to_ms: int,
    cartridge_id: str | None = None,
) -> Draws:
    """Draws of the line that begin in [from_ms, to_ms), in order of time."""
    found = connection.execute(
        f"SELECT {COLUMNS} FROM draws WHERE line_id = ? AND start_ms >= ? AND start_ms < ? "
        "AND (? IS NULL OR cartridge_id = ?) ORDER BY start_ms",
        (line_id, from_ms, to_ms, cartridge_id, cartridge_id),
    ).fetchall()
    return draws_from(found)


def draws_from(found: list[tuple[Any, ...]]) -> Draws:
    """Draws from rows of the columns `COLUMNS`; NULL is NaN."""
    columns = list(zip(*found, strict=True)) if found else [()] * len(DRAW_COLUMNS)
    built: dict[str, Any] = {
        name: np.array(column, dtype=np.int64 if name in DRAW_WHOLE else np.float64)
        for name, column in zip(DRAW_COLUMNS, columns, strict=True)
    }
    return Draws(**built)
