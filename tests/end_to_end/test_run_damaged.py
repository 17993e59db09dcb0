"""`lastlitre run` on a file that is damaged, or that cannot be written."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from pathlib import Path

import httpx
import pytest

from analytics.samples import RecordRescued
from firmware_bridge.store.reader import Reader
from tests.end_to_end.commands import once, running
from tests.end_to_end.test_run_command import node, site_file
from tests.peers import eventually

pytestmark = pytest.mark.timeout(180)


def rows_of(path: Path) -> int:
    reader = Reader(path)
    try:
        return len(reader.rows("bar", 0, 1 << 60))
    finally:
        reader.close()


@contextmanager
def lived(folder: Path) -> Iterator[tuple[Path, Path]]:
    """A site file and a database with some real rows in it; the node lives on."""
    path, data = site_file(folder, str(folder / "tty")), folder / "harbour-steps.sqlite"
    with node(folder / "tty"):
        with running("run", str(path), "--no-page") as program:
            eventually("the file", data.exists, 60)
            eventually("rows", lambda: rows_of(data) > 0, 60)
            assert program.stop() == 0
        yield path, data


def test_a_damaged_file_is_set_aside_and_the_site_goes_on(tmp_path: Path) -> None:
    """The daemon says so, keeps the old file, saves its rows, and new rows come in."""
    with lived(tmp_path) as (path, data):
        before, body = rows_of(data), data.read_bytes()
        data.write_bytes(b"\x00" * 4096 + body[4096:])
        with running("run", str(path), "--no-page") as program:
            eventually("the rescue", lambda: "store.rescued" in program.text, 60)
            eventually("new rows", lambda: data.exists() and rows_of(data) > before, 60)
            reader = Reader(data)
            told = [event for event in reader.events() if isinstance(event, RecordRescued)]
            reader.close()
            assert program.stop() == 0

        assert len(told) == 1
        assert (tmp_path / told[0].set_aside).read_bytes()[4096:] == body[4096:]


def test_damage_while_it_runs_is_mended_while_it_runs(tmp_path: Path) -> None:
    """A page of the file turns to noise under the running daemon: it notices, mends, goes on."""
    with lived(tmp_path) as (path, data), running("run", str(path)) as program:
        page = program.page()
        with closing(sqlite3.connect(data)) as connection:
            connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
            (root,) = connection.execute(
                "SELECT rootpage FROM sqlite_schema WHERE name = 'events'"
            ).fetchone()
        with data.open("r+b") as file:
            file.seek((root - 1) * 4096)
            file.write(os.urandom(4096))

        def looked() -> bool:
            with suppress(httpx.HTTPError):
                httpx.get(page, timeout=10.0)
            return "store.rescued" in program.text

        eventually("the rescue", looked, 60)
        before = rows_of(data)
        eventually("new rows", lambda: rows_of(data) > before, 60)
        assert program.stop() == 0


def test_the_record_is_for_its_owner_alone(tmp_path: Path) -> None:
    """Every file of the record is 0600."""
    with lived(tmp_path) as (_, data):
        for file in tmp_path.glob("harbour-steps.sqlite*"):
            assert file.stat().st_mode & 0o077 == 0, file
        assert data.stat().st_mode & 0o777 == 0o600


@pytest.mark.parametrize("place", ["/proc/nowhere/a.sqlite", "/dev/null/a.sqlite"])
def test_a_folder_that_cannot_be_written_is_named(tmp_path: Path, place: str) -> None:
    """Exit code 2, the folder and what to do; no traceback."""
    path = site_file(tmp_path, str(tmp_path / "tty"), f'[store]\npath = "{place}"\n')
    done = once("run", str(path), "--no-page")

    assert done.returncode == 2
    assert place.rsplit("/", 1)[0] in done.stderr
    assert "Traceback" not in done.stderr
    assert "[store]" in done.stderr


def test_another_programs_database_is_left_alone(tmp_path: Path) -> None:
    """A path that points at a foreign database: refused, untouched."""
    data = tmp_path / "recipes.sqlite"
    with closing(sqlite3.connect(data)) as connection:
        connection.execute("CREATE TABLE recipes (name TEXT)")
        connection.commit()
    before = data.read_bytes()
    path = site_file(tmp_path, str(tmp_path / "tty"), '[store]\npath = "recipes.sqlite"\n')
    done = once("run", str(path), "--no-page")

    assert done.returncode == 2
    assert "not one of this program" in done.stderr
    assert data.read_bytes() == before
