"""Draws: kept for ever, one row each."""

from __future__ import annotations

import sqlite3
from typing import Any

import msgspec
import numpy as np

from analytics.samples import DRAW_COLUMNS, DRAW_WHOLE, Draws, Floats, Ints
from firmware_bridge.store.ledger import Ledger

COLUMNS = ", ".join(DRAW_COLUMNS)
_INSERT = (
    f"INSERT INTO draws (seq, line_id, cartridge_id, {COLUMNS}) "
    f"VALUES (?, ?, ?{', ?' * len(DRAW_COLUMNS)})"
)


class DrawSums(msgspec.Struct, frozen=True, kw_only=True):
    """Draws by spans of time: entry i is all that began in the span that begins at `at_ms[i]`.

    EC25 and temperature are means by pulses (of draws that have one), NaN where no draw of the span
    counted; flow is in pulses a second, over all draws of the span and of its fastest.
    """

    at_ms: Ints
    pulses: Ints
    outlet_ec25_us_cm: Floats
    inlet_ec25_us_cm: Floats
    outlet_temp_c: Floats
    coldest_c: Floats
    warmest_c: Floats
    mean_hz: Floats
    fastest_hz: Floats

    def __len__(self) -> int:
        return len(self.at_ms)


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


_MEAN = "sum({0} * pulses) / sum(({0} IS NOT NULL) * pulses)"
_SUMS = (
    "SELECT start_ms / ?1 * ?1 AS span, sum(pulses), "
    + ", ".join(map(_MEAN.format, ("outlet_ec25_us_cm", "inlet_ec25_us_cm", "outlet_temp_c")))
    + ", min(outlet_temp_c), max(outlet_temp_c), "
    "1000.0 * sum(pulses) / max(sum(end_ms - start_ms), 1), "
    "max(1000.0 * pulses / max(end_ms - start_ms, 1)) "
    "FROM draws WHERE line_id = ?2 AND start_ms >= ?3 AND start_ms < ?4 GROUP BY span ORDER BY span"
)


def sums_of(
    connection: sqlite3.Connection, line_id: str, from_ms: int, to_ms: int, width_ms: int
) -> DrawSums:
    """Draws of the line that begin in [from_ms, to_ms), by spans counted from 1970."""
    found = connection.execute(_SUMS, (width_ms, line_id, from_ms, to_ms)).fetchall()
    names = DrawSums.__struct_fields__
    table = np.array(found, dtype=np.float64).reshape(-1, len(names))
    whole = ("at_ms", "pulses")
    columns: dict[str, Any] = {
        name: table[:, n].astype(np.int64) if name in whole else table[:, n]
        for n, name in enumerate(names)
    }
    return DrawSums(**columns)
