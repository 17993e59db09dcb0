"""kill -9 while rows flow: what was confirmed is there, what is there is whole."""

from __future__ import annotations

import signal
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from firmware_bridge.store.database import Store
from tests.firmware_bridge.store.stored import asked, keep, some_rows, taken_of

WRITE = """
import sys
import numpy as np
from analytics.samples import Rows, ROW_COLUMNS
from firmware_bridge.store.batch import Batch, Taken
from firmware_bridge.store.database import Store

path, boot, begin = sys.argv[1], int(sys.argv[2]), int(sys.argv[3])
with Store.open(path, site_id="s") as store:
    print("open", flush=True)
    for frame in range(1, 10_000_000, 3):
        numbers = np.arange(frame, frame + 3, dtype=np.int64)
        values = numbers / 100
        rows = Rows(
            at_ms=begin + numbers * 7000, outlet_us_cm=values, outlet_temp_c=values,
            inlet_us_cm=values, inlet_temp_c=values, pulses=numbers, flags=numbers * 0,
        )
        taken = Taken(
            line_id="bar", rows=rows, boot_id=boot, uptime_ms=numbers * 7000, frame_seq=numbers
        )
        done = store.submit(Batch(readings=(taken,))).result()
        print(done.confirmed[boot], done.last_seq, flush=True)
"""


def run_and_kill(path: Path, boot: int, confirmations: int) -> tuple[int, int]:
    """Let a process write until it has confirmed so often, then kill it; what it confirmed last."""
    command = [sys.executable, "-c", WRITE, str(path), str(boot), str(boot * 10**12)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as child:
        assert child.stdout is not None
        assert child.stdout.readline() == "open\n"
        lines = [child.stdout.readline() for _ in range(confirmations)]
        child.send_signal(signal.SIGKILL)
        lines += child.stdout.readlines()
    whole = [line for line in lines if line.endswith("\n")]
    frame, seq = whole[-1].split()
    return int(frame), int(seq)


@pytest.mark.timeout(120)
def test_confirmed_rows_survive_being_killed(tmp_path: Path) -> None:
    """Six kills at different moments: the frames confirmed and those stored are the same set, but
    for one batch that was on its way; every row has one number, given once, in order; the file is
    sound; the next run opens.
    """
    path = tmp_path / "site.db"
    rng = np.random.default_rng(11)
    total = 0
    for boot in range(1, 7):
        frame, seq = run_and_kill(path, boot, int(rng.integers(1, 400)))
        assert asked(path, "PRAGMA integrity_check") == [("ok",)]
        with Store.open(path, site_id="s") as store:
            reader = store.reader()
            rows = reader.rows("bar", boot * 10**12, (boot + 1) * 10**12)
            stored = rows.pulses.tolist()
            assert stored == list(range(1, len(stored) + 1))
            assert frame <= len(stored) <= frame + 3
            assert rows.outlet_us_cm.tolist() == [number / 100 for number in stored]
            assert reader.confirmed(boot) == len(stored)
            total += len(stored)
            found: list[int] = []
            after = 0
            while sent := store.outbox.read(after, 5000):
                found += [row.seq for row in sent]
                after = found[-1]
            assert seq <= found[-1] <= seq + 3 <= reader.newest() + 3
            assert len(found) == len(set(found)) == total


def test_a_killed_daemon_leaves_no_lock(tmp_path: Path) -> None:
    """Its lock dies with it: the next one opens at once."""
    path = tmp_path / "site.db"
    run_and_kill(path, 1, 3)
    with Store.open(path, site_id="s") as store:
        assert keep(store, taken_of(some_rows(2), boot_id=9)).confirmed == {9: 2}
