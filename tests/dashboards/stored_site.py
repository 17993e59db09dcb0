"""A site in Rome with a real store, its source, live values and a clock that stands."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import msgspec
import numpy as np

from analytics.samples import DAY_MS, HOUR_MS, MINUTE_MS, AnyEvent, Rows
from analytics.setup import LocalTime, SiteSetup
from dashboards.phrases.times import local_midnight
from dashboards.sources import LineFacts
from dashboards.store_source import StoreSource
from firmware_bridge.clock import VirtualClock
from firmware_bridge.live import Live
from firmware_bridge.store.batch import Batch, Taken
from firmware_bridge.store.database import Store
from tests.dashboards.specimens import OPENING, line_setup

ROME = LocalTime(from_ms=(0, 1_774_746_000_000), offset_s=(3600, 7200))
"""Summer time from 2026-03-29 01:00 UTC."""
TODAY = date(2026, 4, 2)
NOW_MS = local_midnight(ROME, TODAY) + 15 * HOUR_MS + 17 * MINUTE_MS
FIRST_MS = NOW_MS - 9 * DAY_MS


def setup_of(**changes: object) -> SiteSetup:
    """A site in Rome with one line, shut on Sundays."""
    return SiteSetup(
        site_id="harbour-steps",
        name="Harbour Steps",
        local_time=ROME,
        opening=OPENING,
        lines=(line_setup(**changes),),
    )


def minutes() -> Rows:
    """A row a minute for nine days up to now, with counts that differ from minute to minute."""
    at_ms = np.arange(FIRST_MS, NOW_MS, MINUTE_MS, dtype=np.int64)
    count = len(at_ms)
    pulses = np.random.default_rng(3).integers(0, 60, count)
    pulses[::97] = -1
    return Rows(
        at_ms=at_ms,
        outlet_us_cm=np.full(count, 400.0),
        outlet_temp_c=np.full(count, 17.0),
        inlet_us_cm=np.full(count, 650.0),
        inlet_temp_c=np.full(count, 15.0),
        pulses=pulses.astype(np.int64),
        flags=np.zeros(count, dtype=np.int64),
    )


class Site:
    """A store with its source, live values and clock."""

    def __init__(self, path: Path) -> None:
        self.store = Store.open(path, site_id="harbour-steps")
        self.live = Live()
        self.clock = VirtualClock(NOW_MS, speed=0.0)
        self.reader = self.store.reader()
        self.source = StoreSource(setup_of(), self.reader, self.live, self.clock)

    def keep(self, **batch: object) -> None:
        """Store a batch and wait for the disk."""
        self.store.submit(msgspec.structs.replace(Batch(), **batch)).result(20)

    def keep_rows(self, rows: Rows) -> None:
        """Store rows of the line."""
        frames = np.arange(len(rows), dtype=np.int64) + 1
        taken = Taken(
            line_id="bar", rows=rows, boot_id=1, uptime_ms=rows.at_ms - FIRST_MS, frame_seq=frames
        )
        self.keep(readings=(taken,))

    @property
    def line(self) -> LineFacts:
        """The line's facts now."""
        return self.source.facts().lines[0]


def event(kind: type[AnyEvent], days_ago: float, **fields: object) -> AnyEvent:
    """An event some days ago."""
    at_ms = NOW_MS - round(days_ago * DAY_MS)
    return kind(at_ms=at_ms, known_at_ms=at_ms, line_id="bar", **fields)
