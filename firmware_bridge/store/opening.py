"""The writer's connection: the file made for its owner alone, brought up to date, signed."""

from __future__ import annotations

import os
import sqlite3
from importlib.metadata import version
from pathlib import Path

from analytics.errors import StoreDamaged, StoreError
from firmware_bridge.store.numbers import AHEAD, UNKNOWN_AHEAD, Promised
from firmware_bridge.store.room import Room
from firmware_bridge.store.schema import check_ours, migrate

OTHER_SITE_HINT = "Give every site a file of its own, or correct the site's id in the site file."
FOLDER_HINT = "Check that the folder exists and that this user may write to it."
PAGES_A_CHECKPOINT = 500


def open_to_write(path: Path, site_id: str, room: Room, promised: Promised) -> sqlite3.Connection:
    """The one connection that writes; whatever goes wrong, it is closed again."""
    for_owner_alone(path)
    connection = sqlite3.connect(path, isolation_level=None, check_same_thread=False)
    try:
        check_ours(connection)
        connection.execute("PRAGMA auto_vacuum = INCREMENTAL")
        connection.execute("PRAGMA journal_mode = WAL")
        connection.execute("PRAGMA synchronous = FULL")
        connection.execute("PRAGMA cache_size = -4096")
        connection.execute(f"PRAGMA wal_autocheckpoint = {PAGES_A_CHECKPOINT}")
        room.limit(connection)
        migrate(connection)
        _sign(connection, path, site_id)
        _look_over(connection, path)
        _number_on(connection, promised)
        connection.execute("UPDATE site SET in_use = 1")
    except BaseException:
        connection.close()
        raise
    return connection


def for_owner_alone(path: Path) -> None:
    """Make the file, or take from everybody else the right to read it: it may hold names."""
    try:
        descriptor = os.open(path, os.O_RDWR | os.O_CREAT, 0o600)
        try:
            if os.fstat(descriptor).st_mode & 0o077:
                os.fchmod(descriptor, 0o600)
        finally:
            os.close(descriptor)
    except OSError as exc:
        raise StoreError(f"{path}: {exc.strerror}", FOLDER_HINT) from exc


def _sign(connection: sqlite3.Connection, path: Path, site_id: str) -> None:
    """Write down whose file this is, or refuse another site's."""
    connection.execute(
        "INSERT OR IGNORE INTO site (only_row, site_id, program, newest_seq) VALUES (1, ?, ?, 0)",
        (site_id, version("lastlitre")),
    )
    (owner,) = connection.execute("SELECT site_id FROM site").fetchone()
    if owner != site_id:
        raise StoreError(
            f"{path}: the file belongs to the site {owner!r}, not to {site_id!r}", OTHER_SITE_HINT
        )
    connection.execute("UPDATE site SET program = ?", (version("lastlitre"),))


def _look_over(connection: sqlite3.Connection, path: Path) -> None:
    """After an end without a word the file is looked over; raises StoreDamaged."""
    (in_use,) = connection.execute("SELECT in_use FROM site").fetchone()
    if not in_use:
        return
    found = [word for (word,) in connection.execute("PRAGMA quick_check(3)")]
    if found != ["ok"]:
        raise StoreDamaged(f"{path}: the file is damaged: {'; '.join(found)}", "It is set aside.")


def _number_on(connection: sqlite3.Connection, promised: Promised) -> None:
    """Where the database knows less than was promised beside it, go on above the promise."""
    (newest,) = connection.execute("SELECT newest_seq FROM site").fetchone()
    if promised.up_to > newest + AHEAD:
        connection.execute("UPDATE site SET newest_seq = ?", (promised.up_to,))
        newest = promised.up_to
    promised.reach(newest)


def number_above(known: int, promised: int | None) -> int:
    """From where on numbers are given where some may be missing from the database."""
    return max(known, promised) if promised is not None else known + UNKNOWN_AHEAD
