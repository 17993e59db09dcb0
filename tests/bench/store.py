"""What the store costs: bytes a row, commits, a year read back. python tests/bench/store.py [days]

A year takes about a minute; fewer days measure the same at that length.
"""

from __future__ import annotations

import math
import resource
import sqlite3
import statistics
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np

from analytics.samples import DAY_MS, DRAW_COLUMNS, HOUR_MS, Draws, Floats, Ints, Rows
from firmware_bridge.store.batch import Batch, Taken
from firmware_bridge.store.database import Store
from firmware_bridge.store.reader import Reader

BEGIN_MS = 1_700_000_000_000 // DAY_MS * DAY_MS
LINE = "espresso"


def hour_of_rows(hour: int, rng: np.random.Generator, count: int = 3600) -> Rows:
    """An hour at 1 Hz: white noise of 0.1 uS/cm and 0.01 C on slow drifts, 2 ms of jitter."""
    at_ms = BEGIN_MS + hour * HOUR_MS + np.arange(count) * (HOUR_MS // count)
    flowing = np.repeat(rng.random(count // 60) < 0.15, 60)
    return Rows(
        at_ms=(at_ms + rng.integers(0, 3, count)).astype(np.int64),
        outlet_us_cm=_meter(250 + 40 * math.sin(hour / 900), 0.1, 1, rng, count),
        outlet_temp_c=_meter(16 + 4 * math.sin(hour / 3.8), 0.01, 2, rng, count),
        inlet_us_cm=_meter(560 + 20 * math.sin(hour / 700), 0.1, 1, rng, count),
        inlet_temp_c=_meter(15 + 4 * math.sin(hour / 3.8), 0.01, 2, rng, count),
        pulses=np.where(flowing, rng.poisson(25, count), 0).astype(np.int64),
        flags=np.zeros(count, dtype=np.int64),
    )


def _meter(level: float, noise: float, places: int, rng: np.random.Generator, count: int) -> Floats:
    drift = np.cumsum(rng.normal(0, noise / 20, count))
    values: Floats = np.round(level + drift + rng.normal(0, noise, count), places)
    return values


def day_of_draws(day: int, rng: np.random.Generator, count: int = 274) -> Draws:
    """A day of draws, 1e5 a year."""
    start = np.sort(rng.integers(0, DAY_MS // 1000, count)) * 1000 + BEGIN_MS + day * DAY_MS
    start += np.arange(count)
    whole: dict[str, Ints] = {
        "start_ms": start,
        "end_ms": start + rng.integers(5, 60, count) * 1000,
        "pulses": rng.integers(20, 5000, count),
        "pulses_before": rng.integers(0, 90_000, count),
        "still_ms": rng.integers(60_000, 40_000_000, count),
        "flags": np.zeros(count, dtype=np.int64),
    }
    measured = {name: rng.normal(300, 50, count) for name in DRAW_COLUMNS if name not in whole}
    return Draws(**whole, **measured)


def batches(days: int) -> Iterator[Batch]:
    """A batch a day, rows and draws."""
    rng = np.random.default_rng(1)
    number = 1
    for day in range(days):
        taken = []
        for hour in range(day * 24, day * 24 + 24):
            rows = hour_of_rows(hour, rng)
            frame_seq = np.arange(number, number + len(rows))
            number += len(rows)
            uptime_ms = rows.at_ms - BEGIN_MS + 5000
            taken.append(
                Taken(line_id=LINE, rows=rows, boot_id=77, uptime_ms=uptime_ms, frame_seq=frame_seq)
            )
        yield Batch(readings=tuple(taken), draws=((LINE, "c1", day_of_draws(day, rng)),))


def fill(path: Path, days: int) -> float:
    """Store these days; seconds the store took."""
    spent = 0.0
    with Store.open(path, site_id="bench") as store:
        for batch in batches(days):
            start = time.perf_counter()
            store.submit(batch).result()
            spent += time.perf_counter() - start
    return spent


def sizes(path: Path) -> dict[str, int]:
    """Bytes of the packed bodies, the roll-ups and the draws, and of the whole file."""
    with sqlite3.connect(path) as connection:
        ask = lambda sql: int(connection.execute(sql).fetchone()[0] or 0)  # noqa: E731
        found = {
            "rows": ask("SELECT sum(rows) FROM blocks"),
            "blocks": ask("SELECT sum(length(meters) + length(numbers)) FROM blocks"),
            "roll-ups": ask("SELECT sum(length(minutes)) FROM minutely"),
            "draws": ask("SELECT count(*) FROM draws"),
        }
    connection.close()
    return {**found, "file": path.stat().st_size}


def draws_bytes(folder: Path, days: int) -> float:
    """Bytes a draw, indexes included: a file with draws alone."""
    rng = np.random.default_rng(2)
    path = folder / "draws.db"
    with Store.open(path, site_id="bench") as store:
        empty = 0
        for day in range(days):
            drawn = day_of_draws(day, rng)
            store.submit(Batch(draws=((LINE, "cartridge-1", drawn),))).result()
    return (path.stat().st_size - empty) / (days * 274)


def median_ms(work: Callable[[], object], times: int = 9) -> float:
    """Median milliseconds of wall time."""
    took = []
    for _ in range(times):
        start = time.perf_counter()
        work()
        took.append((time.perf_counter() - start) * 1000)
    return statistics.median(took)


def commits(folder: Path, count: int = 300) -> dict[str, float]:
    """First durable row after opening, and a commit of a second's rows, live."""
    rows = hour_of_rows(0, np.random.default_rng(3))
    start = time.perf_counter()
    with Store.open(folder / "live.db", site_id="bench") as store:
        took = []
        for place in range(count):
            began = time.perf_counter()
            cut = rows.cut(place, place + 1)
            taken = Taken(
                line_id=LINE,
                rows=cut,
                boot_id=1,
                uptime_ms=cut.at_ms - BEGIN_MS,
                frame_seq=np.array([place + 1]),
            )
            store.submit(Batch(readings=(taken,))).result()
            took.append((time.perf_counter() - began) * 1000)
            if not place:
                first = (time.perf_counter() - start) * 1000
    took.sort()
    return {"first": first, "p50": took[count // 2], "p99": took[int(count * 0.99)]}


def drain(path: Path, rows: int) -> float:
    """Rows a second out of the outbox, 60 at a time."""
    with Store.open(path, site_id="bench") as store:
        outbox = store.outbox
        after, start = 0, time.perf_counter()
        while after < rows:
            after = outbox.read(after, 60)[-1].seq
        return rows / (time.perf_counter() - start)


def read_all(reader: Reader, to_ms: int) -> int:
    """Every row, an hour at a time."""
    return sum(len(rows) for rows in reader.rows_by_hour(LINE, BEGIN_MS, to_ms))


def report(days: int) -> None:
    """Measure and print."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        live = commits(folder)
        print(
            f"first durable row {live['first']:.0f} ms after opening; "
            f"commit p50 {live['p50']:.2f}, p99 {live['p99']:.2f} ms"
        )
        path = folder / "year.db"
        spent = fill(path, days)
        size = sizes(path)
        rows = size["rows"]
        print(f"{days} days, {rows:,} rows stored in {spent:.1f} s: {rows / spent:,.0f} rows/s")
        print(
            f"bytes a row: {size['blocks'] / rows:.2f} packed, "
            f"+ {size['roll-ups'] / rows:.2f} roll-ups, whole file with draws "
            f"{size['file'] / rows:.2f} = {size['file'] / 1e6:.1f} MB"
        )
        each = draws_bytes(folder, min(days, 60))
        print(f"bytes a draw: {each:.0f} = {each / 10:.1f} MB for 1e5 draws")
        _report_reading(path, days, rows)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"peak memory {peak:.0f} MiB")


def _report_reading(path: Path, days: int, rows: int) -> None:
    reader = Reader(path)
    end_ms = BEGIN_MS + days * DAY_MS
    start = time.perf_counter()
    if read_all(reader, end_ms) != rows:
        raise SystemExit("rows were lost")
    spent = time.perf_counter() - start
    print(f"all rows read back in {spent:.2f} s: {rows / spent / 1e6:.1f} M rows/s")
    for what, width in {"hour": HOUR_MS, "day": DAY_MS, "month": 30 * DAY_MS}.items():
        took = median_ms(
            lambda w=width: reader.series(LINE, "outlet_us_cm", end_ms - w, end_ms, 1000)
        )  # type: ignore[misc]
        print(f"the last {what} as 1000 points: {took:.1f} ms")
    took = median_ms(lambda: reader.series(LINE, "outlet_us_cm", BEGIN_MS, end_ms, 1000))
    print(f"{days} days as 1000 points: {took:.1f} ms")
    took = median_ms(lambda: reader.pulses_by_hour(LINE, BEGIN_MS, end_ms))
    print(f"pulses by hour: {took:.1f} ms")
    took = median_ms(lambda: reader.draws(LINE, BEGIN_MS, end_ms), 3)
    print(f"all draws: {took:.0f} ms")
    reader.close()
    print(f"outbox, 60 at a time: {drain(path, min(rows, 300_000)):,.0f} rows/s")


if __name__ == "__main__":
    report(int(sys.argv[1]) if len(sys.argv) > 1 else 365)
