"""The tables of the site's file, as numbered steps from the first version on.

The version stands in SQLite's `user_version`, the mark of our files in `application_id`. A change
of the format is a new step: a new file in `migrations`.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from importlib.metadata import version

from analytics.errors import StoreDamaged, StoreError, StoreForeign
from firmware_bridge.store.migration import Migration
from firmware_bridge.store.migrations import MIGRATIONS

OUR_MARK = 0x4C4C7472  # "LLtr"
MOST_STEPS_AHEAD = 1000


def version_of(connection: sqlite3.Connection) -> int:
    """The format version of the file; 0 is a file without tables."""
    return int(connection.execute("PRAGMA user_version").fetchone()[0])


def check_ours(connection: sqlite3.Connection, newest: int = MIGRATIONS[-1].number) -> None:
    """Raise StoreForeign for another program's database, StoreError for one of a newer program.

    Our tables under a wrong mark, or this program's own name under a later version, can only be
    damage: StoreDamaged.
    """
    mark = connection.execute("PRAGMA application_id").fetchone()[0]
    tables = {name for (name,) in connection.execute("SELECT name FROM sqlite_schema")}
    if tables and mark != OUR_MARK:
        if {"site", "boots", "blocks"} <= tables:
            raise StoreDamaged("the file's header is damaged", "It is set aside and rescued.")
        raise StoreForeign(
            "the file is a database, but not one of this program",
            "Give the site a path of its own in the site file; nothing was changed here.",
        )
    found = version_of(connection)
    if found > newest:
        program = connection.execute("SELECT program FROM site").fetchone()
        if found > newest + MOST_STEPS_AHEAD or (program and program[0] == version("lastlitre")):
            raise StoreDamaged("the file's version is damaged", "It is set aside and rescued.")
        raise StoreError(
            f"the file has format version {found}; this program knows up to {newest}",
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
