"""The fleet under load, on this machine: `python -m tests.bench fleet [--part NAME ...] [--short]`.

Real payloads, a real broker, the program's own ingest workers as processes, broker and database on
the same cores. The parts: steady, storm, ceiling, single (a row a message), shared (two workers),
flood, kills, pages, year. `--short` is a few seconds that prove it runs, not a measurement.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Mapping
from functools import partial

from firmware_bridge.logs import set_up_logs
from tests.fleet_load.ceiling import ceiling, flood
from tests.fleet_load.kills import kills
from tests.fleet_load.pages import pages, year
from tests.fleet_load.steady import steady, storm

Figures = Mapping[str, float]
PARTS: dict[str, Callable[[], Figures]] = {
    "steady": steady,
    "storm": storm,
    "ceiling": ceiling,
    "ceiling on PostgreSQL": partial(ceiling, postgresql=True),
    "single": partial(ceiling, 1, 200),
    "shared": partial(ceiling, workers=2, postgresql=True),
    "flood": flood,
    "kills": partial(kills, 2),
    "pages": pages,
    "year": year,
}
SHORT: dict[str, Callable[[], Figures]] = {
    "steady": partial(steady, 60, 1.5),
    "storm": partial(storm, 60, 12),
    "ceiling": partial(ceiling, for_s=0.7),
    "flood": partial(flood, 10, 1200),
    "kills": partial(kills, 1, ("worker", "broker"), 0.5),
    "pages": partial(pages, 300, 3),
    "year": partial(year, 3, 20, 5),
}


def run(parts: tuple[str, ...] = (), short: bool = False) -> dict[str, float]:
    """The figures of the parts asked for, or of all."""
    set_up_logs()  # to standard error: what is printed is the figures alone
    found: dict[str, float] = {}
    chosen = SHORT if short else PARTS
    for name in parts or tuple(chosen):
        load = os.getloadavg()[0]
        sys.stderr.write(f"{name} ...\n")
        figures = chosen[name]()
        sys.stderr.writelines(f"  {what}: {value:.4g}\n" for what, value in figures.items())
        found |= {f"{name}: {what}": value for what, value in figures.items()}
        found[f"{name}: load of the machine before"] = load
    return found
