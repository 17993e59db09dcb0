"""Opening, sharing and closing the site's file."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from analytics.errors import StoreBusy, StoreDamaged, StoreError
from firmware_bridge.store.batch import Batch
from firmware_bridge.store.database import Store
from firmware_bridge.store.reader import Reader
from tests.firmware_bridge.store.stored import asked, keep, some_rows, taken_of

HOLD = """
import sys
from firmware_bridge.store.database import Store
store = Store.open(sys.argv[1], site_id="s")
print("open", flush=True)
sys.stdin.readline()
store.close()
print("closed", flush=True)
"""


def test_a_second_daemon_is_refused_in_plain_words(tmp_path: Path) -> None:
    """Another process has the file: StoreBusy names it; once it is gone the file opens."""
    path = tmp_path / "site.db"
    other = subprocess.Popen(
        [sys.executable, "-c", HOLD, str(path)],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
    )  # fmt: skip
    with other:
        assert other.stdout is not None
        assert other.stdin is not None
        assert other.stdout.readline() == "open\n"
        with pytest.raises(StoreBusy, match=rf"process {other.pid} already writes") as fault:
            Store.open(path, site_id="s")
        assert str(other.pid) in fault.value.hint
        other.stdin.write("\n")
        other.stdin.flush()
        assert other.stdout.readline() == "closed\n"
    with Store.open(path, site_id="s") as store:
        assert keep(store, taken_of(some_rows(1))).last_seq == 1


def test_the_same_process_cannot_open_it_twice(tmp_path: Path) -> None:
    """Two stores on one file in one process are refused as well."""
    with (
        Store.open(tmp_path / "site.db", site_id="s"),
        pytest.raises(StoreBusy, match=str(os.getpid())),
    ):
        Store.open(tmp_path / "site.db", site_id="s")


@pytest.mark.parametrize(
    "content", [b"not a database " * 300, b"\x00" * 8192, b"SQLite format 3\x00" * 99]
)
def test_a_file_that_is_no_database_is_named_damaged(tmp_path: Path, content: bytes) -> None:
    """StoreDamaged with what to do; the file is left as it is, and the lock is free again."""
    path = tmp_path / "site.db"
    path.write_bytes(content)
    for _ in range(2):
        with pytest.raises(StoreDamaged, match=r"site\.db") as fault:
            Store.open(path, site_id="s")
        assert fault.value.hint
    assert path.read_bytes() == content


def test_a_file_of_another_site_is_refused(tmp_path: Path) -> None:
    """Both sites are named."""
    path = tmp_path / "site.db"
    Store.open(path, site_id="harbour-steps").close()
    with pytest.raises(StoreError, match="'harbour-steps', not to 'other'"):
        Store.open(path, site_id="other")


def test_a_folder_that_is_not_there_is_named(tmp_path: Path) -> None:
    """StoreError with the path and a hint, for the daemon and for a reader."""
    for opened in (lambda p: Store.open(p, site_id="s"), Reader):
        with pytest.raises(StoreError, match="nowhere") as fault:
            opened(tmp_path / "nowhere" / "site.db")
        assert fault.value.hint


def test_the_file_is_kept_safe_against_power_cuts(tmp_path: Path) -> None:
    """Write-ahead log, and our mark in the file."""
    path = tmp_path / "site.db"
    with Store.open(path, site_id="s"):
        assert asked(path, "PRAGMA journal_mode") == [("wal",)]
    assert asked(path, "SELECT site_id FROM site") == [("s",)]


def test_an_unsound_batch_harms_no_other(tmp_path: Path) -> None:
    """Of many batches in one commit, only the one whose columns differ in length fails."""
    rows = some_rows(40)
    with Store.open(tmp_path / "site.db", site_id="s") as store:
        futures = []
        for place in range(40):
            good = taken_of(rows.cut(place, place + 1), place + 1)
            futures.append(store.submit(Batch(readings=(good,))))
            bad = taken_of(rows.cut(0, 3), 1, uptime_ms=rows.at_ms[:2])
            futures.append(store.submit(Batch(readings=(good, bad))))
        for good_one, bad_one in zip(futures[::2], futures[1::2], strict=True):
            assert good_one.result(20).last_seq > 0
            assert isinstance(bad_one.exception(20), ValueError)
        assert len(store.reader().rows("bar", 0, 1 << 60)) == 40
        assert store.reader().newest() == 40


def test_a_batch_withdrawn_in_time_is_not_stored(tmp_path: Path) -> None:
    """A cancelled future does not stop the writer, and its batch is whole: in or not in."""
    rows = some_rows(200)
    with Store.open(tmp_path / "site.db", site_id="s") as store:
        futures = [
            store.submit(Batch(readings=(taken_of(rows.cut(n, n + 1), n + 1),))) for n in range(200)
        ]
        cancelled = [future.cancel() for future in futures[100:]].count(True)
        answer = keep(store, taken_of(some_rows(1), 1, boot_id=8))
        assert answer.last_seq == 200 - cancelled + 1


def test_closing_writes_what_was_handed_in(tmp_path: Path) -> None:
    """Everything submitted before `close` is answered and in the file; afterwards it says no."""
    path = tmp_path / "site.db"
    rows = some_rows(300)
    store = Store.open(path, site_id="s")
    reader = store.reader()
    futures = [
        store.submit(Batch(readings=(taken_of(rows.cut(n, n + 1), n + 1),))) for n in range(300)
    ]
    store.close()
    store.close()
    assert futures[-1].done()
    assert asked(path, "SELECT sum(rows) FROM blocks") == [(300,)]
    with pytest.raises(StoreError, match="closed"):
        store.submit(Batch())
    with pytest.raises(StoreError, match="closed"):
        reader.newest()
