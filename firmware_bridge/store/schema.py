"""The tables of the site's file, as numbered steps from the first version on.

The version stands in SQLite's `user_version`, the mark of our files in `application_id`. A step is
never changed once it was released: a change is a new step at the end.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence

import msgspec

from analytics.errors import StoreDamaged, StoreError

OUR_MARK = 0x4C4C7472  # "LLtr"


class Migration(msgspec.Struct, frozen=True):
    """One step of the format: its number, what it brings, and its statements."""

    number: int
    what: str
    statements: tuple[str, ...]


FIRST = Migration(
    1,
    "readings in blocks, draws, estimates, events, alarms, snapshots, counters, cursors",
    (
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
    ),
)

MIGRATIONS: tuple[Migration, ...] = (FIRST,)


def version_of(connection: sqlite3.Connection) -> int:
    """The format version of the file; 0 is a file without tables."""
    return int(connection.execute("PRAGMA user_version").fetchone()[0])


def check_ours(connection: sqlite3.Connection, newest: int = MIGRATIONS[-1].number) -> None:
    """Raise StoreDamaged for a foreign database, StoreError for one of a newer program."""
    mark = connection.execute("PRAGMA application_id").fetchone()[0]
    tables = connection.execute("SELECT count(*) FROM sqlite_schema").fetchone()[0]
    if tables and mark != OUR_MARK:
        raise StoreDamaged(
            "the file is a database, but not one of this program",
            "Give the site a path of its own in the site file; nothing was changed here.",
        )
    version = version_of(connection)
    if version > newest:
        raise StoreError(
            f"the file has format version {version}; this program knows up to {newest}",
            "It was written by a newer version of the program: install that one again.",
        )


def migrate(
    connection: sqlite3.Connection, migrations: Sequence[Migration] = MIGRATIONS
) -> tuple[int, ...]:
    """Bring the file up to date, every step in a transaction of its own; the steps taken."""
    check_ours(connection, migrations[-1].number)
    taken = []
    for step in migrations:
        if step.number > version_of(connection):
            _take(connection, step)
            taken.append(step.number)
    return tuple(taken)


def _take(connection: sqlite3.Connection, step: Migration) -> None:
    connection.execute("BEGIN IMMEDIATE")
    try:
        for statement in step.statements:
            connection.execute(statement)
        connection.execute(f"PRAGMA application_id = {OUR_MARK}")
        connection.execute(f"PRAGMA user_version = {step.number}")
        connection.execute("COMMIT")
    except BaseException:
        if connection.in_transaction:
            connection.execute("ROLLBACK")
        raise
