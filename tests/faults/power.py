"""The power is cut: what was synced is there, what was not is there, half there, or not there."""

from __future__ import annotations

import random
import shutil
import time
from collections import defaultdict
from pathlib import Path

import msgspec

from analytics.errors import StoreDamaged
from analytics.samples import AlarmChange
from firmware_bridge.store.batch import Batch
from firmware_bridge.store.database import Store
from firmware_bridge.store.numbers import promised_beside
from firmware_bridge.store.rescue import rescue
from tests.faults.disk import Call, Disk, faulty_disk
from tests.firmware_bridge.store.stored import HOUR_BEGIN_MS, some_rows, taken_of
from tests.stream_faults import Outcome

SECTOR = 512
BATCHES = 240
ROWS = 3


class Moment(msgspec.Struct, frozen=True, kw_only=True):
    """After so many calls of the disk: frames confirmed, highest number given, what is promised."""

    calls: int
    frames: int
    seq: int
    promised: bytes


def power_cuts(folder: Path, times: int, seed: int = 7, *, honest: bool = True) -> Outcome:
    """Rows and alarms are stored once; then the power is cut at `times` moments of that history.

    With a disk that is not `honest`, no sync kept anything.
    """
    chance = random.Random(seed)
    origin, begun = folder / "origin" / "a.db", folder / "begun"
    origin.parent.mkdir(parents=True)
    with faulty_disk() as disk:
        calls, moments = _history(disk, origin, begun)
    lost, doubled, slowest, rows = 0, 0, 0.0, 0
    for n in range(times):
        cut = chance.randrange(1, len(calls))
        place = folder / f"cut-{n}"
        moment = max((m for m in moments if m.calls <= cut), key=lambda m: m.calls)
        kept = [call for call in calls[:cut] if honest or call.what != "sync"]
        _after_cut(kept, moment, begun, place, chance)
        began = time.monotonic()
        found, fresh = _opened(place / "a.db")
        slowest = max(slowest, time.monotonic() - began)
        rows += moment.frames
        lost += len(set(range(1, moment.frames + 1)) - set(found))
        doubled += len(found) - len(set(found)) + (fresh <= moment.seq)
        shutil.rmtree(place)
    return Outcome(
        fault="power cut, unsynced writes dropped, torn, reordered", times=times, rows=rows,
        lost=lost, doubled=doubled, recover_s=slowest, repeated=0,
    )  # fmt: skip


def _history(disk: Disk, path: Path, begun: Path) -> tuple[list[Call], list[Moment]]:
    """Everything asked of the disk while rows are stored, and what was confirmed when."""
    Store.open(path, site_id="s").close()
    store = Store.open(path, site_id="s")
    shutil.copytree(path.parent, begun)
    disk.recording = True
    moments = [_moment(disk, path, 0, 0)]
    for n in range(BATCHES):
        at_ms = HOUR_BEGIN_MS + n * 120_000
        rows = some_rows(ROWS, begin_ms=at_ms, seed=n)
        alarm = AlarmChange(at_ms=at_ms, alarm="a", change="raised", priority="low", text="")
        batch = Batch(readings=(taken_of(rows, 1 + n * ROWS),), alarms=(("bar", alarm),))
        stored = store.submit(batch).result(60)
        moments.append(_moment(disk, path, stored.confirmed[7], stored.last_seq))
    disk.recording = False
    calls = list(disk.calls)
    store.close()
    return calls, moments


def _moment(disk: Disk, path: Path, frames: int, seq: int) -> Moment:
    return Moment(
        calls=disk.mark(), frames=frames, seq=seq, promised=promised_beside(path).read_bytes()
    )


def _after_cut(
    calls: list[Call], moment: Moment, begun: Path, place: Path, chance: random.Random
) -> None:
    """The files as the cut leaves them."""
    shutil.copytree(begun, place)
    for leftover in place.glob("*-shm"):
        leftover.unlink()
    promised_beside(place / "a.db").write_bytes(moment.promised)
    by_file: dict[str, list[Call]] = defaultdict(list)
    for call in calls:
        by_file[call.file].append(call)
    for name, asked in by_file.items():
        last_sync = max((n for n, call in enumerate(asked) if call.what == "sync"), default=-1)
        path = place / name
        data = bytearray(path.read_bytes() if path.exists() else b"")
        for call in asked[: last_sync + 1]:
            _apply(data, call, call.data)
        loose = [call for call in asked[last_sync + 1 :] if chance.random() < 0.5]
        chance.shuffle(loose)
        for call in loose:
            _apply(data, call, _torn(call.data, chance))
        path.write_bytes(data)


def _apply(data: bytearray, call: Call, body: bytes) -> None:
    if call.what == "cut":
        del data[call.offset :]
    elif call.what == "write":
        data.extend(bytes(max(call.offset + len(body) - len(data), 0)))
        data[call.offset : call.offset + len(body)] = body


def _torn(body: bytes, chance: random.Random) -> bytes:
    """All of a write, or its first sectors."""
    if chance.random() < 0.7:
        return body
    return body[: SECTOR * chance.randrange(len(body) // SECTOR + 1)]


def _opened(path: Path) -> tuple[list[int], int]:
    """The frames that are there after the power is back, and the next number that is given."""
    try:
        return _read(path)
    except StoreDamaged:
        rescue(path, "s", HOUR_BEGIN_MS)
        return _read(path)


def _read(path: Path) -> tuple[list[int], int]:
    with Store.open(path, site_id="s") as store:
        frames: list[int] = []
        after = 0
        while sent := store.outbox.read(after, 5000):
            after = sent[-1].seq
            frames += [row.at_ms for row in sent if row.kind == "reading"]
        known = store.reader().confirmed(7) or 0
        fresh = store.submit(Batch(readings=(taken_of(some_rows(1), boot_id=9),))).result(20)
    numbers = [_frame(at_ms) for at_ms in sorted(frames)]
    return [n for n in numbers if n <= known], fresh.first_seq


def _frame(at_ms: int) -> int:
    batch, row = divmod(at_ms - HOUR_BEGIN_MS, 120_000)
    return 1 + batch * ROWS + row // 1000
