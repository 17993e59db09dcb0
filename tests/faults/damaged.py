"""Bits turn over, files are cut off: every file of the record, one at a time."""

from __future__ import annotations

import random
import shutil
import time
from pathlib import Path

from analytics.errors import StoreDamaged
from firmware_bridge.store.batch import Batch
from firmware_bridge.store.database import Store
from firmware_bridge.store.rescue import rescue
from tests.firmware_bridge.store.damage import filled, flip
from tests.firmware_bridge.store.stored import HOUR_BEGIN_MS, some_rows, taken_of
from tests.stream_faults import Outcome

FILES = ("", "-wal", "-shm", ".numbers", ".ballast", ".lock")
NOW_MS = HOUR_BEGIN_MS + 500 * 3_600_000


def bits_flipped(folder: Path, times: int) -> Outcome:
    """One bit of one file each time; the rows on a page that is not whole are lost, no more."""
    return _each(folder / "bits", times, "a bit turned over in any file", cut=False)


def files_cut(folder: Path, times: int) -> Outcome:
    """One file cut off at a random place each time; what lay behind the cut is lost."""
    return _each(folder / "cuts", times, "any file cut off", cut=True)


def _each(folder: Path, times: int, fault: str, *, cut: bool) -> Outcome:
    chance = random.Random(11)
    origin = folder / "origin" / "a.db"
    origin.parent.mkdir(parents=True)
    rows, newest = _in_use(origin)
    lost, doubled, slowest = 0, 0, 0.0
    for n in range(times):
        place = folder / str(n)
        shutil.copytree(origin.parent / "copy", place)
        file = place / f"a.db{FILES[n % len(FILES)] if n % 2 else ''}"
        if file.exists() and file.stat().st_size:
            _damage(file, chance, cut=cut)
        began = time.monotonic()
        here, twice = _opened(place / "a.db", newest)
        slowest = max(slowest, time.monotonic() - began)
        lost, doubled = lost + rows - here, doubled + twice
        shutil.rmtree(place)
    return Outcome(
        fault=fault, times=times, rows=rows * times, lost=lost, doubled=doubled,
        recover_s=slowest, repeated=0,
    )  # fmt: skip


def _in_use(path: Path) -> tuple[int, int]:
    """A record in use, as a pulled plug leaves it, under `copy`: its rows, its newest number."""
    filled(path, hours=10)
    with Store.open(path, site_id="s") as store:
        for n in range(30):
            rows = some_rows(4, begin_ms=NOW_MS + 60_000 * n)
            last = store.submit(Batch(readings=(taken_of(rows, 1 + 4 * n, boot_id=50),)))
        newest = last.result(20).last_seq
        shutil.copytree(path.parent, path.parent / "copy")
        return len(store.reader().rows("bar", 0, 1 << 60)), newest


def _damage(file: Path, chance: random.Random, *, cut: bool) -> None:
    if not cut:
        flip(file, chance)
        return
    size = file.stat().st_size
    with file.open("r+b") as opened:
        opened.truncate(chance.randrange(size))


def _opened(path: Path, newest: int) -> tuple[int, int]:
    """Rows that are there, and one more for a number given twice; rescued where need be."""
    try:
        return _read(path, newest)
    except StoreDamaged:
        rescue(path, "s", NOW_MS)
        return _read(path, newest)


def _read(path: Path, newest: int) -> tuple[int, int]:
    with Store.open(path, site_id="s") as store:
        reader = store.reader()
        rows = reader.rows("bar", 0, 1 << 60)
        reader.event_history()
        reader.draws("bar", 0, 1 << 60)
        reader.estimates("bar", 0, 1 << 60)
        reader.alarm_changes()
        numbers: list[int] = []
        after = 0
        while sent := store.outbox.read(after, 5000):
            after = sent[-1].seq
            numbers += [row.seq for row in sent]
        fresh = store.submit(Batch(readings=(taken_of(some_rows(1), boot_id=99),))).result(20)
    return len(rows), len(numbers) - len(set(numbers)) + (fresh.first_seq <= newest)
