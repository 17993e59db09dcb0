"""Replay and pipeline: rows a second from a file and in memory, with and without the estimate."""

from __future__ import annotations

import csv
import gzip
import io
import tempfile
import time
from datetime import datetime
from pathlib import Path

from analytics.chemistry.temperature import f25_where_defined
from analytics.draws import Gate, Run, find_draws
from analytics.samples import Rows
from analytics.setup import SiteSetup
from firmware_bridge.recording import COLUMNS, open_recording, read_rows
from firmware_bridge.replay import iso, replay
from tests.makers import cafe_rows, hydrogen_line, usual_facts

DAYS = 60


def run() -> dict[str, float]:
    """Figures of about two months of a cafe."""
    rows = cafe_rows(DAYS, seed=1, litres_a_day=60.0)
    line = hydrogen_line(capacity_mmol=4000.0)
    figures = {"rows": float(len(rows)), "rows/s in memory, to draws": _in_memory(rows)}
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "recording.csv.gz"
        path.write_bytes(gzip.compress(_text(rows).encode(), 1))
        begun = time.perf_counter()
        recording = open_recording(path)
        count = sum(len(part) for part in read_rows(recording))
        figures["rows/s read from csv.gz"] = count / (time.perf_counter() - begun)
        figures["rows/s by csv module and a loop"] = _plain(path)
        setup = SiteSetup(site_id="b", name="b", lines=(line,), dated=usual_facts())
        found = replay(setup, line, path, Path(folder) / "out")
        figures["replay, s"] = found.seconds
        figures["estimates"] = float(found.estimates)
        figures["ms an estimate step"] = 1000.0 * found.seconds / max(found.estimates, 1)
    return figures


def _in_memory(rows: Rows) -> float:
    begun = time.perf_counter()
    find_draws(Run(), rows, int(rows.at_ms[-1]), Gate.at(1000.0), f25_where_defined)
    return len(rows) / (time.perf_counter() - begun)


def _plain(path: Path) -> float:
    begun = time.perf_counter()
    with gzip.open(path, "rt") as file:
        count = 0
        for row in csv.DictReader(file):
            datetime.fromisoformat(row["time"])
            float(row["outlet_conductivity_uS_cm"])
            count += 1
    return count / (time.perf_counter() - begun)


def _text(rows: Rows) -> str:
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(COLUMNS)
    for i in range(len(rows)):
        writer.writerow(
            (
                iso(int(rows.at_ms[i])),
                f"{rows.outlet_us_cm[i]:.1f}",
                f"{rows.outlet_temp_c[i]:.2f}",
                f"{rows.inlet_us_cm[i]:.1f}",
                f"{rows.inlet_temp_c[i]:.2f}",
                int(rows.pulses[i]),
            )
        )
    return out.getvalue()
