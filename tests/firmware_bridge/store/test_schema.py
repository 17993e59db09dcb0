"""The format moves in numbered steps; a step that fails leaves the file as it was."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from analytics.errors import StoreDamaged, StoreError
from firmware_bridge.store.database import Store
from firmware_bridge.store.migration import Migration
from firmware_bridge.store.migrations import MIGRATIONS
from firmware_bridge.store.schema import migrate, version_of
from tests.firmware_bridge.store.stored import asked, keep, some_rows, taken_of

NEXT = Migration(
    len(MIGRATIONS) + 1,
    "a note beside every cursor",
    ("ALTER TABLE cursors ADD COLUMN note TEXT NOT NULL DEFAULT ''",),
)


def test_steps_are_numbered_without_gaps() -> None:
    """1, 2, 3, ..."""
    assert [step.number for step in MIGRATIONS] == list(range(1, len(MIGRATIONS) + 1))


def test_a_new_file_takes_every_step_once(tmp_path: Path) -> None:
    """The second time there is nothing to do."""
    with closing(sqlite3.connect(tmp_path / "a.db", isolation_level=None)) as connection:
        assert migrate(connection) == tuple(step.number for step in MIGRATIONS)
        assert migrate(connection) == ()
        assert version_of(connection) == MIGRATIONS[-1].number


def test_a_later_step_keeps_what_is_stored(tmp_path: Path) -> None:
    """A file of this version with rows in it is brought one step on; the rows are still there."""
    path = tmp_path / "a.db"
    with Store.open(path, site_id="s") as store:
        keep(store, taken_of(some_rows(30)))
        store.outbox.settle("mqtt", 12, {})
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        assert migrate(connection, (*MIGRATIONS, NEXT)) == (NEXT.number,)
    assert asked(path, "SELECT sink, up_to_seq, note FROM cursors") == [("mqtt", 12, "")]
    assert asked(path, "SELECT sum(rows) FROM blocks") == [(30,)]


def test_a_step_that_fails_changes_nothing(tmp_path: Path) -> None:
    """Its first statement is undone with the rest, and the version stays."""
    broken = Migration(NEXT.number, NEXT.what, (*NEXT.statements, "ALTER TABLE nowhere ADD x"))
    with closing(sqlite3.connect(tmp_path / "a.db", isolation_level=None)) as connection:
        migrate(connection)
        with pytest.raises(sqlite3.OperationalError):
            migrate(connection, (*MIGRATIONS, broken))
        assert version_of(connection) == MIGRATIONS[-1].number
        columns = [name for _, name, *_ in connection.execute("PRAGMA table_info(cursors)")]
        assert "note" not in columns
        assert migrate(connection, (*MIGRATIONS, NEXT)) == (NEXT.number,)


def test_a_file_of_a_newer_program_is_refused(tmp_path: Path) -> None:
    """It says which versions, and that a newer program wrote it."""
    path = tmp_path / "a.db"
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        migrate(connection, (*MIGRATIONS, NEXT))
    with pytest.raises(StoreError, match=rf"version {NEXT.number}.*up to {NEXT.number - 1}") as f:
        Store.open(path, site_id="s")
    assert "newer" in f.value.hint


def test_a_foreign_database_is_refused_untouched(tmp_path: Path) -> None:
    """A database of another program is named as such and not written to."""
    path = tmp_path / "a.db"
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("CREATE TABLE recipes (name TEXT)")
        connection.commit()
    before = path.read_bytes()
    with pytest.raises(StoreDamaged, match="not one of this program") as fault:
        Store.open(path, site_id="s")
    assert fault.value.hint
    assert path.read_bytes() == before
