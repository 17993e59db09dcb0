"""The disk refuses: every n-th call fails, a write is cut short, or there is no room."""

from __future__ import annotations

import time
from pathlib import Path

from analytics.errors import LastLitreError, StoreDamaged
from firmware_bridge.store.batch import Batch
from firmware_bridge.store.database import Store
from firmware_bridge.store.rescue import rescue
from tests.faults.disk import (
    FULL,
    IOERR_FSYNC,
    IOERR_TRUNCATE,
    IOERR_WRITE,
    Call,
    Disk,
    Verdict,
    faulty_disk,
)
from tests.firmware_bridge.store.stored import HOUR_BEGIN_MS, some_rows, taken_of
from tests.stream_faults import Outcome

BATCHES = 16
ROWS = 5
CODES = {"write": IOERR_WRITE, "sync": IOERR_FSYNC, "cut": IOERR_TRUNCATE}


def errors(folder: Path, times: int) -> Outcome:
    """The n-th call of the disk fails, for n up to `times`, and all is well after it."""

    def failing(call: Call) -> tuple[int, int]:
        return CODES[call.what], 0

    return _each(folder / "errors", times, "input/output error at the n-th call", failing)


def short_writes(folder: Path, times: int) -> Outcome:
    """The n-th write is done half and fails."""

    def failing(call: Call) -> tuple[int, int]:
        return CODES[call.what], len(call.data) // 2

    return _each(folder / "short", times, "half a write at the n-th call", failing)


def no_room(folder: Path, times: int) -> Outcome:
    """From the n-th call on no write finds room, until twenty calls later somebody makes some."""

    def failing(call: Call) -> tuple[int, int]:
        return (FULL, 0) if call.what == "write" else (0, 0)

    return _each(folder / "room", times, "disk full from the n-th call on", failing, lasting=20)


def _each(folder: Path, times: int, fault: str, failing: Verdict, lasting: int = 1) -> Outcome:
    lost, doubled, slowest, refused = 0, 0, 0.0, 0
    folder.mkdir(parents=True)
    for n in range(1, times + 1):
        path = folder / f"{n}.db"
        with faulty_disk() as disk:
            found = _once(disk, path, n * 3, failing, lasting)
        lost, doubled, refused = lost + found[0], doubled + found[1], refused + found[2]
        slowest = max(slowest, found[3])
        for file in folder.glob(f"{n}.db*"):
            file.unlink()
    return Outcome(
        fault=fault, times=times, rows=times * BATCHES * ROWS, lost=lost, doubled=doubled,
        recover_s=slowest, repeated=refused,
    )  # fmt: skip


def _once(
    disk: Disk, path: Path, at: int, failing: Verdict, lasting: int
) -> tuple[int, int, int, float]:
    """A store whose disk fails at some calls; a batch that is refused is handed in again.

    Rows lost, doubled and refused, and seconds until the store took a refused batch.
    """
    store = Store.open(path, site_id="s")
    count, refused, failed_s, slowest = 0, 0, 0.0, 0.0

    def verdict(call: Call) -> tuple[int, int]:
        nonlocal count
        count += 1
        return failing(call) if at <= count < at + lasting else (0, len(call.data))

    disk.verdict = verdict
    for n in range(BATCHES):
        rows = some_rows(ROWS, begin_ms=HOUR_BEGIN_MS + n * 600_000, seed=n)
        batch = Batch(readings=(taken_of(rows, 1 + n * ROWS),))
        while True:
            try:
                store.submit(batch).result(20)
            except StoreDamaged:
                failed_s = failed_s or time.monotonic()
                store.close()
                rescue(path, "s", HOUR_BEGIN_MS)
                store = Store.open(path, site_id="s")
            except LastLitreError:
                failed_s = failed_s or time.monotonic()
                refused += ROWS
            else:
                break
        if failed_s:
            slowest, failed_s = max(slowest, time.monotonic() - failed_s), 0.0
    store.close()
    with Store.open(path, site_id="s") as again:
        found = again.reader().rows("bar", 0, 1 << 60)
    total = BATCHES * ROWS
    distinct = len(set(found.at_ms.tolist()))
    return total - distinct, len(found) - distinct, refused, slowest
