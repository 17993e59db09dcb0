"""A file as the first version of the program wrote it, statement by statement: never to change."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import numpy as np

from firmware_bridge.store.blocks import Numbers, pack_numbers, pack_rows
from tests.firmware_bridge.store.stored import HOUR_BEGIN_MS, some_rows

MARK = 0x4C4C7472
TABLES = (
    """CREATE TABLE site (
        only_row INTEGER PRIMARY KEY CHECK (only_row = 1),
        site_id TEXT NOT NULL,
        program TEXT NOT NULL,
        newest_seq INTEGER NOT NULL)""",
    """CREATE TABLE boots (
        boot_no INTEGER PRIMARY KEY,
        line_id TEXT NOT NULL,
        boot_id INTEGER NOT NULL,
        first_ms INTEGER NOT NULL,
        offset_ms INTEGER,
        done_up_to INTEGER NOT NULL,
        ahead TEXT NOT NULL,
        UNIQUE (line_id, boot_id))""",
    """CREATE TABLE blocks (
        block_no INTEGER PRIMARY KEY AUTOINCREMENT,
        line_id TEXT NOT NULL,
        hour INTEGER NOT NULL,
        level INTEGER NOT NULL,
        rows INTEGER NOT NULL,
        unsure INTEGER NOT NULL,
        first_seq INTEGER NOT NULL,
        last_seq INTEGER NOT NULL,
        meters BLOB NOT NULL,
        numbers BLOB NOT NULL)""",
    "CREATE INDEX blocks_by_hour ON blocks (line_id, hour, level)",
    "CREATE INDEX blocks_open ON blocks (line_id, hour) WHERE level < 2",
    "CREATE INDEX blocks_by_seq ON blocks (last_seq, first_seq)",
    "CREATE INDEX blocks_unsure ON blocks (line_id) WHERE unsure > 0",
    """CREATE TABLE hourly (
        line_id TEXT NOT NULL,
        channel TEXT NOT NULL,
        hour INTEGER NOT NULL,
        low REAL NOT NULL,
        high REAL NOT NULL,
        total REAL NOT NULL,
        count INTEGER NOT NULL,
        PRIMARY KEY (line_id, channel, hour)) WITHOUT ROWID""",
    """CREATE TABLE minutely (
        line_id TEXT NOT NULL,
        channel TEXT NOT NULL,
        hour INTEGER NOT NULL,
        minutes BLOB NOT NULL,
        PRIMARY KEY (line_id, channel, hour)) WITHOUT ROWID""",
    """CREATE TABLE draws (
        seq INTEGER PRIMARY KEY,
        line_id TEXT NOT NULL,
        cartridge_id TEXT NOT NULL,
        start_ms INTEGER NOT NULL,
        end_ms INTEGER NOT NULL,
        pulses INTEGER NOT NULL,
        pulses_before INTEGER NOT NULL,
        still_ms INTEGER NOT NULL,
        outlet_ec25_us_cm REAL,
        outlet_ec25_se REAL,
        outlet_temp_c REAL,
        inlet_ec25_us_cm REAL,
        inlet_ec25_se REAL,
        inlet_temp_c REAL,
        flags INTEGER NOT NULL)""",
    "CREATE UNIQUE INDEX draws_by_start ON draws (line_id, start_ms)",
    """CREATE TABLE estimates (
        seq INTEGER PRIMARY KEY,
        line_id TEXT NOT NULL,
        cartridge_id TEXT NOT NULL,
        at_ms INTEGER NOT NULL,
        known_at_ms INTEGER NOT NULL,
        body BLOB NOT NULL)""",
    "CREATE INDEX estimates_by_instant ON estimates (line_id, at_ms, known_at_ms)",
    "CREATE INDEX estimates_by_line ON estimates (line_id)",
    """CREATE TABLE events (
        seq INTEGER PRIMARY KEY,
        event_id TEXT NOT NULL UNIQUE,
        kind TEXT NOT NULL,
        line_id TEXT NOT NULL,
        at_ms INTEGER NOT NULL,
        known_at_ms INTEGER NOT NULL,
        withdraws TEXT,
        body TEXT NOT NULL)""",
    "CREATE INDEX events_by_instant ON events (at_ms)",
    "CREATE INDEX events_withdrawing ON events (withdraws) WHERE withdraws IS NOT NULL",
    """CREATE TABLE alarms (
        seq INTEGER PRIMARY KEY,
        line_id TEXT NOT NULL,
        at_ms INTEGER NOT NULL,
        alarm TEXT NOT NULL,
        change TEXT NOT NULL,
        priority TEXT NOT NULL,
        text TEXT NOT NULL)""",
    "CREATE INDEX alarms_by_instant ON alarms (line_id, at_ms)",
    """CREATE TABLE snapshots (
        line_id TEXT NOT NULL,
        at_ms INTEGER NOT NULL,
        state BLOB NOT NULL,
        PRIMARY KEY (line_id, at_ms))""",
    "CREATE TABLE counters (name TEXT PRIMARY KEY, value INTEGER NOT NULL) WITHOUT ROWID",
    "CREATE TABLE cursors (sink TEXT PRIMARY KEY, up_to_seq INTEGER NOT NULL) WITHOUT ROWID",
    """CREATE TABLE rejected (
        sink TEXT NOT NULL,
        seq INTEGER NOT NULL,
        reason TEXT NOT NULL,
        row TEXT NOT NULL,
        PRIMARY KEY (sink, seq)) WITHOUT ROWID""",
)


def write_first_version(path: Path, rows: int = 600) -> None:
    """A line with an hour of rows, two draws, a fact, an alarm, a counter and a sink's cursor."""
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        connection.execute("PRAGMA auto_vacuum = INCREMENTAL")
        connection.execute("PRAGMA journal_mode = WAL")
        connection.execute("BEGIN")
        for statement in TABLES:
            connection.execute(statement)
        connection.execute(f"PRAGMA application_id = {MARK}")
        connection.execute("PRAGMA user_version = 1")
        _fill(connection, rows)
        connection.execute("COMMIT")


def _fill(connection: sqlite3.Connection, count: int) -> None:
    rows = some_rows(count)
    number = np.arange(count, dtype=np.int64) + 1
    numbers = Numbers(
        seq=number,
        boot_no=np.ones(count, dtype=np.int64),
        uptime_ms=rows.at_ms - HOUR_BEGIN_MS,
        frame_seq=number,
    )
    packed = (pack_rows(rows), pack_numbers(numbers, rows.at_ms))
    at = HOUR_BEGIN_MS
    for sql, values in (
        ("INSERT INTO site VALUES (1, 's', '0.1.0', ?)", (count + 4,)),
        ("INSERT INTO boots VALUES (1, 'bar', 7, ?, NULL, ?, '[]')", (at, count)),
        (
            "INSERT INTO blocks VALUES (NULL, 'bar', ?, 0, ?, 0, 1, ?, ?, ?)",
            (at // 3_600_000, count, count, *packed),
        ),
        (
            "INSERT INTO draws VALUES (?, 'bar', 'c1', ?, ?, 250, 0, 0, 240.5, 0.1, 17.0, "
            "560.0, 0.1, 15.0, 0)",
            (count + 1, at, at + 9000),
        ),
        (
            "INSERT INTO draws VALUES (?, 'bar', 'c1', ?, ?, 130, 0, 0, NULL, NULL, NULL, "
            "NULL, NULL, NULL, 0)",
            (count + 2, at + 60_000, at + 66_000),
        ),
        (
            "INSERT INTO events VALUES (?, 'e1', 'closure', 'bar', ?, ?, NULL, ?)",
            (
                count + 3,
                at,
                at,
                f'{{"kind":"closure","at_ms":{at},"line_id":"bar","event_id":"e1",'
                f'"until_ms":{at + 1}}}',
            ),
        ),
        (
            "INSERT INTO alarms VALUES (?, 'bar', ?, 'data-gap', 'raised', 'medium', '')",
            (count + 4, at),
        ),
        ("INSERT INTO counters VALUES ('rows', ?)", (count,)),
        ("INSERT INTO cursors VALUES ('mqtt', 12)", ()),
    ):
        connection.execute(sql, values)
