"""`lastlitre export` and `lastlitre status` on a site's file, beside a writer that has it open."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from analytics.samples import Rows
from firmware_bridge.store.batch import Batch, Taken
from firmware_bridge.store.database import Store
from tests.end_to_end.commands import once
from tests.end_to_end.test_run_command import site_file

pytestmark = pytest.mark.timeout(120)

SINK = """
[[sink]]
kind = "mqtt"
host = "127.0.0.1"
"""


def filled(folder: Path) -> Store:
    """Fifty readings from 2026-07-01 00:00 in London on, and one that a sink refused."""
    store = Store.open(folder / "harbour-steps.sqlite", site_id="harbour-steps")
    number = np.arange(50)
    rows = Rows(
        at_ms=1_782_860_400_000 + number * 60_000,
        outlet_us_cm=400.0 + number,
        outlet_temp_c=np.full(50, 19.5),
        inlet_us_cm=np.full(50, np.nan),
        inlet_temp_c=np.full(50, np.nan),
        pulses=number,
        flags=np.zeros(50, dtype=np.int64),
    )
    taken = Taken(
        line_id="bar", rows=rows, boot_id=1, uptime_ms=number * 60_000, frame_seq=number + 1
    )
    store.submit(Batch(readings=(taken,))).result()
    store.outbox.settle("mqtt", 40, {7: "too odd"})
    return store


def test_a_morning_is_written_by_the_sites_own_clock(tmp_path: Path) -> None:
    """`--from` and `--to` are local time; the file holds UTC; progress goes to standard error."""
    path = site_file(tmp_path, "/dev/null", SINK)
    out = tmp_path / "morning.csv"
    with filled(tmp_path):
        done = once("export", str(path), "--out", str(out), "--from", "2026-07-01",
                    "--to", "2026-07-01T00:03")  # fmt: skip
        status = once("status", str(path))

    assert (done.returncode, done.stdout) == (0, f"Wrote 3 rows of readings to {out}.\n")
    assert "Writing morning.csv" in done.stderr
    head, *lines = out.read_text().splitlines()
    assert head.startswith("time,outlet_conductivity_uS_cm,")
    assert lines[0] == "2026-06-30T23:00:00Z,400.0,19.5,,,0,bar,0"
    assert status.returncode == 0
    assert "rows numbered up to 50" in status.stdout
    assert "Sink mqtt: confirmed up to row 40, 10 to go." in status.stdout
    assert "1 x too odd (last: row 7)" in status.stdout


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["--line", "cellar"], "no line 'cellar'"),
        (["--from", "soon"], "'soon' is no date"),
        (["--from", "2026-07-02", "--to", "2026-07-01"], "not after"),
    ],
)
def test_what_makes_no_sense_is_told(tmp_path: Path, arguments: list[str], says: str) -> None:
    """A wrong line, date or span ends with exit code 2 and the mend, and writes nothing."""
    path = site_file(tmp_path, "/dev/null", SINK)
    out = tmp_path / "x.csv"
    with filled(tmp_path):
        done = once("export", str(path), "--out", str(out), *arguments)

    assert done.returncode == 2
    assert says in done.stderr
    assert not out.exists()


def test_a_site_that_never_ran_is_told(tmp_path: Path) -> None:
    """Without a file there is nothing to write or to say."""
    path = site_file(tmp_path, "/dev/null")
    for command in (["export", str(path), "--out", str(tmp_path / "x.csv")], ["status", str(path)]):
        done = once(*command)
        assert done.returncode == 2
        assert "harbour-steps.sqlite" in done.stderr
        assert "Traceback" not in done.stderr
