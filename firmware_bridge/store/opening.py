"""The writer's connection: the file made for its owner alone, brought up to date, signed."""

from __future__ import annotations

import os
import sqlite3
from contextlib import closing
from importlib.metadata import version
from pathlib import Path

from analytics.errors import StoreDamaged, StoreError
from firmware_bridge.store.box import settle_box
from firmware_bridge.store.numbers import UNKNOWN_AHEAD, Promised
from firmware_bridge.store.room import Room
from firmware_bridge.store.schema import check_ours, migrate

OTHER_SITE_HINT = "Give every site a file of its own, or correct the site's id in the site file."
FOLDER_HINT = "Check that the folder exists and that this user may write to it."
PAGES_A_CHECKPOINT = 500


def open_to_write(path: Path, site_id: str, room: Room, promised: Promised) -> sqlite3.Connection:
    """The one connection that writes; whatever goes wrong, it is closed again."""
    if not for_owner_alone(path):
        _begin(path, site_id)
    connection = sqlite3.connect(path, isolation_level=None, check_same_thread=False)
    try:
        check_ours(connection)
        connection.execute("PRAGMA auto_vacuum = INCREMENTAL")
        connection.execute("PRAGMA journal_mode = WAL")
        connection.execute("PRAGMA synchronous = FULL")
        connection.execute("PRAGMA cache_size = -2048")
        connection.execute(f"PRAGMA wal_autocheckpoint = {PAGES_A_CHECKPOINT}")
        room.limit(connection)
        migrate(connection)
        _sign(connection, path, site_id)
        settle_box(connection, path)
        (newest,) = connection.execute("SELECT newest_seq FROM site").fetchone()
        if promised.up_to != newest:  # a file closed with care has promised just what it used
            _look_over(connection, path)
        _number_on(connection, newest, promised)
    except BaseException:
        connection.close()
        raise
    return connection


def for_owner_alone(path: Path) -> bool:
    """Take from everybody else the right to read the file: it may hold names; whether it is there.

    Raises StoreError where this user may not write it.
    """
    try:
        descriptor = os.open(path, os.O_RDWR)
    except FileNotFoundError:
        return False
    except OSError as exc:
        raise StoreError(f"{path}: {exc.strerror}", FOLDER_HINT) from exc
    try:
        found = os.fstat(descriptor)
        if found.st_mode & 0o077:
            os.fchmod(descriptor, 0o600)
        return found.st_size > 0
    finally:
        os.close(descriptor)


def begin_file(path: Path) -> sqlite3.Connection:
    """A new database with our tables, for its owner alone, in the place of one that is there."""
    try:
        path.unlink(missing_ok=True)
        os.close(os.open(path, os.O_RDWR | os.O_CREAT | os.O_EXCL, 0o600))
    except OSError as exc:
        raise StoreError(f"{path}: {exc.strerror}", FOLDER_HINT) from exc
    connection = sqlite3.connect(path, isolation_level=None)
    connection.execute("PRAGMA auto_vacuum = INCREMENTAL")
    connection.execute("PRAGMA synchronous = FULL")
    migrate(connection)
    return connection


def put_in_place(fresh: Path, path: Path) -> None:
    """Let a finished file take its name, for good."""
    os.replace(fresh, path)
    folder = os.open(path.parent, os.O_RDONLY)
    os.fsync(folder)
    os.close(folder)


def _begin(path: Path, site_id: str) -> None:
    """A new file appears under its name only when it is whole: nobody reads half of one."""
    fresh = path.with_name(path.name + ".new")
    with closing(begin_file(fresh)) as connection:
        _sign(connection, fresh, site_id)
    put_in_place(fresh, path)


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
    """After an end without a word: raises StoreDamaged where the file is not sound."""
    found = [word for (word,) in connection.execute("PRAGMA quick_check(3)")]
    if found != ["ok"]:
        raise StoreDamaged(f"{path}: the file is damaged: {'; '.join(found)}", "It is set aside.")


def _number_on(connection: sqlite3.Connection, newest: int, promised: Promised) -> None:
    """Give no number twice.

    A disk that lied, or an older file put in this place, may have lost rows that were sent already:
    where more was promised than is known, go on above the promise.
    """
    if promised.up_to > newest:
        connection.execute("UPDATE site SET newest_seq = ?", (promised.up_to,))
    promised.reach(max(promised.up_to, newest) + 1)


def number_above(known: int, promised: int | None) -> int:
    """From where on numbers are given where some may be missing from the database."""
    return max(known, promised) if promised is not None else known + UNKNOWN_AHEAD
