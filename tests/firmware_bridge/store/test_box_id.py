"""The random id of a site's record: kept for good, and told apart from another record's."""

from __future__ import annotations

import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

from firmware_bridge.store.database import Store


def box_at(path: Path) -> str:
    """The id of the record at a path, as its daemon tells it."""
    store = Store.open(path, site_id="harbour-steps")
    box = store.box
    store.close()
    return box


def test_every_record_has_an_id_of_its_own_for_good(tmp_path: Path) -> None:
    """Two records differ; one stays the same from start to start."""
    first, second = tmp_path / "a.sqlite", tmp_path / "b.sqlite"
    box = box_at(first)

    assert box_at(first) == box != box_at(second)


def test_backup_on_another_machine_goes_on_as_the_same(tmp_path: Path) -> None:
    """The id is in the record itself."""
    first, other = tmp_path / "a.sqlite", tmp_path / "other"
    box = box_at(first)
    other.mkdir()
    shutil.copy(first, other / "a.sqlite")

    assert box_at(other / "a.sqlite") == box


def test_record_that_lost_its_id_finds_it_beside_it(tmp_path: Path) -> None:
    """After a rescue the record begins anew; what lies beside it tells who it is."""
    path = tmp_path / "a.sqlite"
    box = box_at(path)
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        connection.execute("UPDATE site SET box = ''")

    assert box_at(path) == box
