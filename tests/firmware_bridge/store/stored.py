"""Rows, estimates and batches to store, and questions to SQLite itself."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Any

import numpy as np

from analytics.samples import HOUR_MS, ROW_COLUMNS, Estimate, Flag, Ints, Rows, Share, Spread
from firmware_bridge.store.batch import Batch, Stored, Taken
from firmware_bridge.store.database import Store

HOUR_BEGIN_MS = 1_767_225_600_000
"""2026-01-01, a whole hour."""


def some_rows(
    count: int, begin_ms: int = HOUR_BEGIN_MS, every_ms: int = 1000, seed: int = 1
) -> Rows:
    """Rows on the meters' resolution, with gaps in every channel and some missing counts."""
    rng = np.random.default_rng(seed)
    columns: dict[str, Any] = {
        "outlet_us_cm": np.round(240 + rng.normal(0, 0.3, count), 2),
        "outlet_temp_c": np.round(17 + rng.normal(0, 0.05, count), 3),
        "inlet_us_cm": np.round(560 + rng.normal(0, 0.3, count), 2),
        "inlet_temp_c": np.round(15 + rng.normal(0, 0.05, count), 3),
    }
    for values in columns.values():
        values[rng.random(count) < 0.02] = np.nan
    pulses = rng.poisson(3, count)
    pulses[rng.random(count) < 0.02] = -1
    return Rows(
        at_ms=begin_ms + np.arange(count, dtype=np.int64) * every_ms,
        pulses=pulses.astype(np.int64),
        flags=np.zeros(count, dtype=np.int64),
        **columns,
    )


def taken_of(
    rows: Rows,
    first_frame: int | None = 1,
    *,
    line_id: str = "bar",
    boot_id: int = 7,
    uptime_ms: Ints | None = None,
    frames_from: int = 1,
) -> Taken:
    """The rows as a node gave them, frames numbered from `first_frame` (None: not numbered)."""
    count = len(rows)
    frames = np.full(count, -1) if first_frame is None else np.arange(count) + first_frame
    return Taken(
        line_id=line_id,
        rows=rows,
        boot_id=boot_id,
        uptime_ms=rows.at_ms - HOUR_BEGIN_MS + 5000 if uptime_ms is None else uptime_ms,
        frame_seq=frames.astype(np.int64),
        frames_from=frames_from,
    )


def keep(store: Store, *taken: Taken) -> Stored:
    """Store rows and wait for the disk."""
    return store.submit(Batch(readings=taken)).result(20)


def one_by_one(store: Store, rows: Rows, first_frame: int = 1, step: int = 1) -> None:
    """Store rows a few a batch, as a running daemon does."""
    futures = [
        store.submit(
            Batch(readings=(taken_of(rows.cut(at, min(at + step, len(rows))), first_frame + at),))
        )
        for at in range(0, len(rows), step)
    ]
    for future in futures:
        future.result(20)


def assert_same_rows(expected: Rows, found: Rows) -> None:
    """Every column is the same, bit for bit where there is a value."""
    for name in ROW_COLUMNS:
        np.testing.assert_array_equal(getattr(expected, name), getattr(found, name), err_msg=name)


def unsure(rows: Rows) -> Rows:
    """The same rows, stored while the clock was not known to be right."""
    columns = {name: getattr(rows, name) for name in ROW_COLUMNS}
    columns["flags"] = columns["flags"] | int(Flag.CLOCK_UNSURE)
    return Rows(**columns)


def shifted(rows: Rows, by_ms: int) -> Rows:
    """The same rows at other instants."""
    columns = {name: getattr(rows, name) for name in ROW_COLUMNS}
    return Rows(**(columns | {"at_ms": rows.at_ms + by_ms}))


def asked(path: Path, sql: str) -> list[tuple[Any, ...]]:
    """What SQLite answers on a connection of its own."""
    with closing(sqlite3.connect(path)) as connection:
        return connection.execute(sql).fetchall()


def levels(path: Path) -> dict[int, tuple[int, int]]:
    """Blocks and rows at every level."""
    found = asked(path, "SELECT level, count(*), sum(rows) FROM blocks GROUP BY level")
    return {level: (blocks, rows) for level, blocks, rows in found}


def spread(middle: float) -> Spread:
    """A figure with a tenth of doubt to both sides."""
    return Spread(p50=middle, p05=middle * 0.9, p95=middle * 1.1)


def estimate(at_ms: int, known_at_ms: int | None = None, litres: float = 900.0) -> Estimate:
    """An estimate with something in most places."""
    return Estimate(
        at_ms=at_ms,
        known_at_ms=at_ms if known_at_ms is None else known_at_ms,
        cartridge_id="c1",
        remaining_l=spread(litres),
        used_share=spread(0.4),
        used_rows=tuple(1 - k / 33 for k in range(33)),
        days_left=spread(20.0),
        end_ms=spread(at_ms + 20 * 24 * HOUR_MS),
        ends_by="capacity",
        time_limit_ms=None,
        carbon_left_l=None,
        outlet_mmol_l=spread(0.8),
        treated_mmol_l=None,
        raw_mmol_l=spread(3.1),
        target="carbonate",
        bypass=spread(0.2),
        litres_passed=612.25,
        rests_on=Share(litres=0.5, conductivity=0.3, drop_tests=0.2),
        trusted=True,
        reason="a drop test now would halve the range",
        end_probability=0.01,
    )
