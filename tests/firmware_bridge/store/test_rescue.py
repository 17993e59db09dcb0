"""A damaged file is set aside and what can be read is saved; numbers are never given twice."""

from __future__ import annotations

import random
from pathlib import Path

import pytest

from analytics.errors import StoreBusy, StoreDamaged, StoreForeign
from analytics.samples import RecordRescued
from firmware_bridge.store.checked import SORTS
from firmware_bridge.store.database import Store
from firmware_bridge.store.numbers import promised_beside
from firmware_bridge.store.rescue import rescue
from firmware_bridge.store.resuming import Rescued
from tests.firmware_bridge.store.damage import HOURS, filled, flip, wipe
from tests.firmware_bridge.store.stored import (
    HOUR_BEGIN_MS,
    asked,
    keep,
    some_rows,
    taken_of,
)

pytestmark = pytest.mark.timeout(120)
NOW_MS = HOUR_BEGIN_MS + 40 * 3_600_000
END_MS = 1 << 60


def pages(path: Path) -> int:
    return path.stat().st_size // 4096


def check_goes_on(path: Path, newest: int) -> None:
    """The new file is sound, says what happened, and numbers on above all that was given."""
    assert asked(path, "PRAGMA integrity_check") == [("ok",)]
    with Store.open(path, site_id="s") as store:
        reader = store.reader()
        told = [e for e in reader.events("bar") if isinstance(e, RecordRescued)]
        assert len(told) == 1
        assert "damaged-2026-01-02" in told[0].set_aside
        first = keep(store, taken_of(some_rows(1, begin_ms=NOW_MS), boot_id=99)).first_seq
        assert first > newest
    assert path.stat().st_mode & 0o077 == 0


@pytest.mark.parametrize("page", [1, 2, 3, 8, 20, 40, -1])
def test_a_page_of_noise_costs_what_was_on_it(tmp_path: Path, page: int) -> None:
    """Whichever page is gone, the first with the list of tables too: most of the rest is saved."""
    path = tmp_path / "a.db"
    newest = filled(path)
    count = pages(path)
    wipe(path, count if page < 0 else page)
    found = rescue(path, "s", NOW_MS)
    saved = found.saved

    assert found.set_aside.exists()
    assert saved["events"] >= 2 * HOURS - 25
    assert saved["draws"] >= HOURS - 30
    assert saved["events"] + saved["draws"] + saved["alarms"] >= 4 * HOURS - 40
    assert saved["blocks"] >= HOURS - 8
    check_goes_on(path, newest)


def test_half_a_file_gives_what_is_in_that_half(tmp_path: Path) -> None:
    """A file that was cut off: what lies before the cut is saved."""
    path = tmp_path / "a.db"
    newest = filled(path)
    with path.open("r+b") as file:
        file.truncate(pages(path) // 2 * 4096 + 100)
    found = rescue(path, "s", NOW_MS)

    assert sum(found.saved.values()) > 20
    check_goes_on(path, newest)


def test_an_unreadable_file_is_kept_and_a_new_one_begun(tmp_path: Path) -> None:
    """Nothing is saved, nothing is thrown away, and numbers go on above what was promised."""
    path = tmp_path / "a.db"
    newest = filled(path)
    path.write_bytes(b"\xff" * 50_000)
    with pytest.raises(StoreDamaged):
        Store.open(path, site_id="s")
    found = rescue(path, "s", NOW_MS)

    assert sum(found.saved.values()) == 0
    assert found.set_aside.read_bytes() == b"\xff" * 50_000
    check_goes_on(path, newest)


def test_without_any_promise_the_numbers_leap(tmp_path: Path) -> None:
    """The file of promised numbers is gone too: far beyond anything that can have been given."""
    path = tmp_path / "a.db"
    newest = filled(path)
    path.write_bytes(b"")
    promised_beside(path).unlink()
    rescue(path, "s", NOW_MS)

    check_goes_on(path, newest)


def test_flipped_bits_anywhere_never_stop_the_site(tmp_path: Path) -> None:
    """Forty bits one after the other, a file each: it opens, or is rescued and opens."""
    rng = random.Random(3)
    origin = tmp_path / "origin.db"
    newest = filled(origin, hours=12)
    body = origin.read_bytes()
    rescues = 0
    for n in range(40):
        path = tmp_path / f"{n}.db"
        path.write_bytes(body)
        promised_beside(path).write_bytes(promised_beside(origin).read_bytes())
        flip(path, rng, *((0, 100) if n % 4 == 0 else (0, None)))
        rescues += opened_or_rescued(path)
        with Store.open(path, site_id="s") as store:
            assert keep(store, taken_of(some_rows(1), boot_id=99)).first_seq > newest
    assert rescues > 5


def opened_or_rescued(path: Path) -> bool:
    """Read all there is; where that shows damage, rescue, and read all again."""
    try:
        read_all(path)
    except StoreForeign:
        raise
    except StoreDamaged:
        rescue(path, "s", NOW_MS)
        read_all(path)
        return True
    return False


def read_all(path: Path) -> None:
    with Store.open(path, site_id="s") as store:
        reader = store.reader()
        reader.rows("bar", 0, END_MS)
        reader.draws("bar", 0, END_MS)
        reader.event_history()
        reader.estimates("bar", 0, END_MS)
        reader.alarm_changes()
        after = 0
        while sent := store.outbox.read(after, 5000):
            after = sent[-1].seq


def test_rows_whose_block_is_gone_are_owed_again(tmp_path: Path) -> None:
    """A node was told its frames are safe; some are not any more: they are taken again."""
    path = tmp_path / "a.db"
    filled(path)
    with Store.open(path, site_id="s") as store:
        assert store.reader().confirmed(7) == 360 * HOURS
    spoilt = asked(path, f"SELECT meters FROM blocks WHERE first_seq = {365 * 28 + 1}")[0][0]
    body = path.read_bytes()
    place = body.index(spoilt[:60])
    path.write_bytes(body[: place + 30] + bytes([body[place + 30] ^ 4]) + body[place + 31 :])
    found = rescue(path, "s", NOW_MS)
    with Store.open(path, site_id="s") as store:
        reader = store.reader()

        assert found.unread == 1
        assert reader.confirmed(7) == 360 * 28
        assert reader.snapshot_before("bar/wire", 0) is None
        again = some_rows(360, begin_ms=HOUR_BEGIN_MS + 28 * 3_600_000, every_ms=10_000, seed=28)
        answer = keep(store, taken_of(again, 1 + 360 * 28))
        assert answer.doubled == 0
        assert answer.confirmed == {7: 360 * HOURS}


def test_a_damaged_log_beside_the_file_costs_its_end_at_most(tmp_path: Path) -> None:
    """Bits of the write-ahead log turn over after a kill: what was in the file is there."""
    path = tmp_path / "a.db"
    newest = filled(path)
    store = Store.open(path, site_id="s")
    for n in range(20):
        keep(store, taken_of(some_rows(5, begin_ms=NOW_MS + 60_000 * n), 1 + 5 * n, boot_id=50))
    copies = {name: Path(f"{path}{name}").read_bytes() for name in ("", "-wal", ".numbers")}
    store.close()
    rng = random.Random(9)
    for n in range(12):
        copy = tmp_path / f"w{n}.db"
        for name, body in copies.items():
            Path(f"{copy}{name}").write_bytes(body)
        wal = Path(f"{copy}-wal")
        if n % 3:
            flip(wal, rng)
        else:
            wal.write_bytes(copies["-wal"][: rng.randrange(len(copies["-wal"]))])
        opened_or_rescued(copy)
        with Store.open(copy, site_id="s") as store:
            assert len(store.reader().rows("bar", 0, NOW_MS)) == 360 * HOURS
            assert keep(store, taken_of(some_rows(1), boot_id=99)).first_seq > newest + 100


def test_a_running_daemon_keeps_its_file(tmp_path: Path) -> None:
    """What is in use is not rescued under the feet of whoever uses it."""
    path = tmp_path / "a.db"
    with Store.open(path, site_id="s"), pytest.raises(StoreBusy):
        rescue(path, "s", NOW_MS)


def test_an_old_file_of_this_program_is_rescued_too(tmp_path: Path) -> None:
    """Rescuing a sound file saves everything."""
    path = tmp_path / "a.db"
    newest = filled(path)
    found: Rescued = rescue(path, "s", NOW_MS)

    assert found.torn == ()
    assert found.unread == 0
    assert (found.saved["events"], found.saved["draws"]) == (2 * HOURS, HOURS)
    assert found.saved["blocks"] == HOURS
    check_goes_on(path, newest)


def test_every_table_there_is_would_be_saved(tmp_path: Path) -> None:
    """A table that a later step of the format adds is not forgotten."""
    path = tmp_path / "a.db"
    filled(path, hours=1)
    tables = asked(path, "SELECT name FROM sqlite_schema WHERE type = 'table'")
    ours = {name for (name,) in tables if not name.startswith("sqlite_")}

    assert ours - {"site"} == {sort.table for sort in SORTS}
