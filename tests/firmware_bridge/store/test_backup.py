"""A copy of the record in use, and a copy put back."""

from __future__ import annotations

import threading
from pathlib import Path

import pytest

from analytics.errors import StoreBusy, StoreDamaged, StoreError
from firmware_bridge.store.backup import back_up, restore
from firmware_bridge.store.batch import Batch
from firmware_bridge.store.database import Store
from firmware_bridge.store.numbers import UNKNOWN_AHEAD, promised_beside
from tests.firmware_bridge.store.damage import HOURS, filled, wipe
from tests.firmware_bridge.store.stored import (
    HOUR_BEGIN_MS,
    asked,
    keep,
    some_rows,
    taken_of,
)

END_MS = 1 << 60
LATER_MS = HOUR_BEGIN_MS + 90 * 3_600_000


def nothing(share: float) -> None:
    assert 0.0 <= share <= 1.0


def test_a_backup_is_one_state_of_a_record_that_is_written_meanwhile(tmp_path: Path) -> None:
    """Rows pour in while it is copied: the copy is sound and has all rows up to one number."""
    path, copy = tmp_path / "a.db", tmp_path / "copy.db"
    filled(path)
    stop = threading.Event()
    shares: list[float] = []
    with Store.open(path, site_id="s") as store:
        before = store.reader().newest()

        def write() -> None:
            place = 0
            while not stop.is_set():
                rows = some_rows(5, begin_ms=LATER_MS + place * 1000)
                store.submit(Batch(readings=(taken_of(rows, place + 1, boot_id=9),))).result(20)
                place += 5

        writer = threading.Thread(target=write)
        writer.start()
        copied = back_up(path, copy, shares.append)
        stop.set()
        writer.join()

    assert copied.newest_seq >= before
    assert shares == sorted(shares)
    assert shares[-1] == 1.0
    assert copy.stat().st_mode & 0o077 == 0
    assert [file.name for file in tmp_path.glob("copy.db*")] == ["copy.db"]
    assert asked(copy, "PRAGMA integrity_check") == [("ok",)]
    seqs = asked(copy, "SELECT sum(rows), max(last_seq) FROM blocks")[0]
    others = sum(
        asked(copy, f"SELECT count(*) FROM {table}")[0][0]
        for table in ("draws", "estimates", "events", "alarms")
    )
    assert seqs[0] + others == copied.newest_seq


def test_a_restored_record_numbers_on_above_all_that_was_sent(tmp_path: Path) -> None:
    """Rows after the backup were sent: their numbers are not given again."""
    path, copy = tmp_path / "a.db", tmp_path / "copy.db"
    filled(path)
    back_up(path, copy, nothing)
    with Store.open(path, site_id="s") as store:
        sent = keep(store, taken_of(some_rows(700, begin_ms=LATER_MS), boot_id=9)).last_seq
        with pytest.raises(StoreBusy):
            restore(path, copy, "s", LATER_MS)
    done = restore(path, copy, "s", LATER_MS)

    assert done.set_aside is not None
    assert "replaced-2026-01-04" in done.set_aside.name
    assert asked(done.set_aside, "SELECT newest_seq FROM site") == [(sent,)]
    with Store.open(path, site_id="s") as store:
        assert len(store.reader().rows("bar", 0, END_MS)) == 360 * HOURS
        assert keep(store, taken_of(some_rows(1), boot_id=10)).first_seq > sent


def test_on_a_new_box_the_numbers_leap(tmp_path: Path) -> None:
    """Nothing tells how far they had come since the backup."""
    path, copy, other = tmp_path / "a.db", tmp_path / "copy.db", tmp_path / "new" / "a.db"
    newest = filled(path)
    back_up(path, copy, nothing)
    other.parent.mkdir()
    done = restore(other, copy, "s", LATER_MS)

    assert done.set_aside is None
    with Store.open(other, site_id="s") as store:
        assert keep(store, taken_of(some_rows(1), boot_id=10)).first_seq > newest + UNKNOWN_AHEAD


def test_a_damaged_record_tells_by_its_promise(tmp_path: Path) -> None:
    """What is there cannot be read: the numbers go on above what was promised beside it."""
    path, copy = tmp_path / "a.db", tmp_path / "copy.db"
    filled(path)
    back_up(path, copy, nothing)
    with Store.open(path, site_id="s") as store:
        sent = keep(store, taken_of(some_rows(5000, begin_ms=LATER_MS), boot_id=9)).last_seq
    path.write_bytes(b"\xff" * 4096)
    assert promised_beside(path).exists()

    assert restore(path, copy, "s", LATER_MS).newest_seq >= sent


def test_a_backup_that_is_not_sound_is_refused(tmp_path: Path) -> None:
    """The record stays as it was; so with a backup of another site, or none."""
    path, copy = tmp_path / "a.db", tmp_path / "copy.db"
    filled(path)
    back_up(path, copy, nothing)
    with pytest.raises(StoreError, match="of the site 's', not of 'other'"):
        restore(path, copy, "other", LATER_MS)
    wipe(copy, 12)
    with pytest.raises(StoreDamaged):
        restore(path, copy, "s", LATER_MS)
    with pytest.raises(StoreError, match="no such file"):
        restore(path, tmp_path / "none.db", "s", LATER_MS)
    with pytest.raises(StoreError, match="there already"):
        back_up(path, copy, nothing)
    assert len(list(tmp_path.glob("a.db*replaced*"))) == 0


def test_a_place_that_cannot_be_written_is_named(tmp_path: Path) -> None:
    """With the path and what to do."""
    path = tmp_path / "a.db"
    filled(path, hours=1)
    with pytest.raises(StoreError, match="nowhere") as fault:
        back_up(path, tmp_path / "nowhere" / "copy.db", nothing)
    assert fault.value.hint
