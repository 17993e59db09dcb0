"""A damaged file is set aside with a date; what can be read of it goes into a new one.

Facts, draws and alarms are saved first, then estimates and what the sinks have, the readings last.
Numbers go on above the highest that can have been given, so that no receiver sees one twice. Where
rows that a node was told are safe are gone, the node is taken to be owed nothing: what its memory
still holds is asked for again.
"""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterator
from contextlib import closing, suppress
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from analytics.errors import StoreError
from firmware_bridge.store.checked import SORTS, Sort
from firmware_bridge.store.faults import in_our_words
from firmware_bridge.store.graft import graft
from firmware_bridge.store.lock import WriterLock
from firmware_bridge.store.numbers import read_promised
from firmware_bridge.store.opening import begin_file, put_in_place
from firmware_bridge.store.resuming import Rescued, go_on
from firmware_bridge.store.room import ballast_beside
from firmware_bridge.store.salvage import Table

PIECE = 500


def rescue(path: Path, site_id: str, now_ms: int) -> Rescued:
    """Set the damaged file at `path` aside and put a new one with what could be saved in its place.

    Raises StoreBusy where a daemon has the file, StoreFull or StoreFailing where the disk does not
    let it; the damaged file is then where it was, or set aside.
    """
    lock = WriterLock.take(path)
    try:
        with in_our_words(path):
            ballast_beside(path).unlink(missing_ok=True)
            return _rescued(path, site_id, now_ms)
    except OSError as exc:
        raise StoreError(
            f"{path}: cannot be set aside: {exc.strerror}", "Look at the disk."
        ) from exc
    finally:
        lock.release()


def set_aside(path: Path, now_ms: int, word: str) -> Path:
    """Rename a database with its companions; its new path, which says when and why."""
    stamp = datetime.fromtimestamp(now_ms / 1000.0, UTC).strftime("%Y-%m-%dT%H%M%SZ")
    aside = path.with_name(f"{path.name}.{word}-{stamp}")
    count = 1
    while aside.exists():
        count += 1
        aside = path.with_name(f"{path.name}.{word}-{stamp}-{count}")
    for companion in ("-wal", "-shm"):
        with suppress(FileNotFoundError):
            os.rename(f"{path}{companion}", f"{aside}{companion}")
    with suppress(FileNotFoundError):
        os.rename(path, aside)
    return aside


def _rescued(path: Path, site_id: str, now_ms: int) -> Rescued:
    promised = read_promised(path)
    aside = set_aside(path, now_ms, "damaged")
    fresh = path.with_name(path.name + ".rescue")
    with closing(begin_file(fresh)) as target:
        rescued = _save(aside, target)
        go_on(target, rescued, site_id, now_ms, promised)
    put_in_place(fresh, path)
    return rescued


def _save(aside: Path, target: sqlite3.Connection) -> Rescued:
    saved: dict[str, int] = {}
    unread, torn = 0, []
    known = {sort.table: set(_columns(target, sort.table)) for sort in SORTS}
    with _readable(aside, known) as source:
        for sort in SORTS:
            kept, bad, whole = _save_table(source, target, sort)
            saved[sort.table] = kept
            unread += bad
            if not whole:
                torn.append(sort.table)
    return Rescued(set_aside=aside, saved=saved, unread=unread, torn=tuple(torn))


def _readable(aside: Path, known: dict[str, set[str]]) -> closing[sqlite3.Connection]:
    """The damaged database as far as it opens: as it is, with a list of tables put in front, or
    nothing."""
    copy, scratch = aside.with_name(aside.name + ".copy"), aside.with_name(aside.name + ".new")
    found = _opened(aside, known)
    if found is None and aside.exists():
        graft(aside, copy, scratch)
        found = _opened(copy, known)
        copy.unlink()  # it stays readable while it is open
    return closing(found or sqlite3.connect(":memory:"))


def _opened(path: Path, known: dict[str, set[str]]) -> sqlite3.Connection | None:
    """The database, if its list of tables can be believed: it names our tables and columns only."""
    if not path.exists():
        return None
    connection = sqlite3.connect(f"{path.absolute().as_uri()}?mode=rw", uri=True)
    try:
        tables = {name for (name,) in connection.execute("SELECT name FROM sqlite_schema")}
        connection.execute("PRAGMA query_only = ON")
        strange = [t for t in known if t in tables and set(_columns(connection, t)) - known[t]]
        connection.text_factory = _text
        if {"draws", "blocks", "events"} <= tables and not strange:
            return connection
    except sqlite3.Error:
        pass  # it is damaged: that is why we are here
    connection.close()
    return None


def _save_table(
    source: sqlite3.Connection, target: sqlite3.Connection, sort: Sort
) -> tuple[int, int, bool]:
    """Records saved, records not whole, and whether every part of the table was reached."""
    columns = _common_columns(source, target, sort.table)
    if not columns:
        return 0, 0, not _columns(target, sort.table)
    table = Table(source, sort.table, columns)
    places = ", ".join("?" * len(columns))
    insert = f"INSERT OR IGNORE INTO {sort.table} ({', '.join(columns)}) VALUES ({places})"
    records = table.by_key(sort.key_columns) if sort.key_columns else table.by_number()
    kept, bad = 0, 0
    for piece in _pieces(records):
        sound = [r for r in piece if sort.holds(dict(zip(columns, r, strict=True)))]
        bad += len(piece) - len(sound)
        target.execute("BEGIN IMMEDIATE")
        before = target.total_changes
        target.executemany(insert, sound)
        kept += target.total_changes - before
        target.execute("COMMIT")
    return kept, bad, not table.faults


def _pieces(records: Iterator[Any]) -> Iterator[list[Any]]:
    piece = []
    for record in records:
        piece.append(record)
        if len(piece) >= PIECE:
            yield piece
            piece = []
    if piece:
        yield piece


def _text(body: bytes) -> str | bytes:
    """A text, or its bytes where they are none any more: no check takes these for a text."""
    try:
        return body.decode()
    except UnicodeDecodeError:
        return body


def _common_columns(
    source: sqlite3.Connection, target: sqlite3.Connection, table: str
) -> tuple[str, ...]:
    there = _columns(source, table)
    return tuple(name for name in _columns(target, table) if name in there)


def _columns(connection: sqlite3.Connection, table: str) -> list[str]:
    try:
        found = connection.execute(f"PRAGMA table_info({table})").fetchall()
    except sqlite3.Error:
        return []
    return [str(name) for _, name, *_ in found]
