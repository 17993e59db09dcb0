"""A store with something in every table, and ways to damage its files."""

from __future__ import annotations

import random
from pathlib import Path

import numpy as np

from analytics.samples import (
    HOUR_MS,
    AlarmChange,
    Closure,
    Draws,
    DropTest,
    Point,
)
from firmware_bridge.store.batch import Batch
from firmware_bridge.store.database import Store
from tests.firmware_bridge.store.stored import HOUR_BEGIN_MS, estimate, some_rows, taken_of

HOURS = 30


def filled(path: Path, hours: int = HOURS) -> int:
    """Hours of rows, a draw, an alarm, an estimate and a fact each; the highest number given."""
    with Store.open(path, site_id="s") as store:
        for hour in range(hours):
            at = HOUR_BEGIN_MS + hour * HOUR_MS
            rows = some_rows(360, begin_ms=at, every_ms=10_000, seed=hour)
            store.submit(
                Batch(
                    readings=(taken_of(rows, 1 + 360 * hour),),
                    draws=(("bar", "c1", one_draw(at)),),
                    estimates=(("bar", estimate(at)),),
                    events=(
                        Closure(at_ms=at, until_ms=at + 1, event_id=f"c{hour}", line_id="bar"),
                        DropTest(
                            at_ms=at, event_id=f"d{hour}", point=Point.RAW, hardness_mmol_l=2.0
                        ),
                    ),
                    alarms=(("bar", alarm(at)),),
                    snapshots=(("bar", at, b"state" * 200), ("bar/wire", 0, b'{"seq": 1}')),
                )
            ).result(20)
        store.outbox.settle("far", 5000, {})
        return store.reader().newest()


def one_draw(at_ms: int) -> Draws:
    """A draw of a quarter litre."""
    whole = {name: [0] for name in ("pulses_before", "still_ms", "flags")}
    real = {
        name: [240.5]
        for name in (
            "outlet_ec25_us_cm",
            "outlet_ec25_se",
            "outlet_temp_c",
            "inlet_ec25_us_cm",
            "inlet_ec25_se",
            "inlet_temp_c",
        )
    }
    columns = {"start_ms": [at_ms], "end_ms": [at_ms + 9000], "pulses": [250], **whole}
    return Draws(
        **{name: np.array(column, dtype=np.int64) for name, column in columns.items()},
        **{name: np.array(column) for name, column in real.items()},
    )


def alarm(at_ms: int) -> AlarmChange:
    """An alarm that was raised."""
    return AlarmChange(at_ms=at_ms, alarm="data-gap", change="raised", priority="low", text="x")


def flip(path: Path, rng: random.Random, first: int = 0, last: int | None = None) -> int:
    """Turn one bit of the file over, in its bytes [first, last); the byte's place."""
    data = bytearray(path.read_bytes())
    place = rng.randrange(first, len(data) if last is None else last)
    data[place] ^= 1 << rng.randrange(8)
    path.write_bytes(data)
    return place


def wipe(path: Path, page: int, size: int = 4096) -> None:
    """Write noise over a page (the first is 1)."""
    with path.open("r+b") as file:
        file.seek((page - 1) * size)
        file.write(random.Random(page).randbytes(size))
