"""The fleet at work: records opened, an ingest worker on the broker, what tidies up behind it.

with Fleet(fleet_file) as fleet: ...   fleet.records is for the pages; any thread may use it
"""

from __future__ import annotations

import time
from collections.abc import Callable
from contextlib import ExitStack
from typing import Self

from firmware_bridge.fleet.caretaker import Caretaker
from firmware_bridge.fleet.config import FleetFile
from firmware_bridge.fleet.ingest.keeper import Keeper
from firmware_bridge.fleet.ingest.worker import Worker, WorkerPace
from firmware_bridge.fleet.records.engine import Records, open_records
from firmware_bridge.fleet.series.feeder import Feeder


class Fleet:
    """All of a fleet that runs in this process; `file` is what it was started with."""

    def __init__(
        self,
        file: FleetFile,
        *,
        ingest_only: bool = False,
        pace: WorkerPace = WorkerPace(),  # noqa: B008 - it is frozen
        now_ms: Callable[[], int] = lambda: time.time_ns() // 1_000_000,
    ) -> None:
        """Open the records; raises StoreError. Nothing is read from the broker before `with`.

        `ingest_only`: a further worker, which leaves the tidying and the series to the first.
        """
        self.file = file
        self.now_ms = now_ms
        self._ingest_only = ingest_only
        self.records: Records = open_records(file.records_url, file.records_password)
        keeper = Keeper(
            self.records,
            file.broker.topic_prefix,
            adopt_newcomers=file.adopt_newcomers,
            readings_days=file.keep.readings_days,
        )
        self.worker = Worker(
            self.records, file.broker, file.group, keeper, pace=pace, now_ms=now_ms
        )
        self.caretaker = Caretaker(
            self.records,
            keeper,
            file.keep,
            silent_after_ms=round(file.silent_after_s * 1000),
            now_ms=now_ms,
        )
        self.series: Feeder | None = None
        if file.series is not None:
            self.series = Feeder(self.records, file.series, now_ms=now_ms)
        self._parts = ExitStack()

    def __enter__(self) -> Self:
        self._parts.callback(self.records.close)
        self._parts.enter_context(self.worker)
        if not self._ingest_only:
            self._parts.enter_context(self.caretaker)
            if self.series is not None:
                self._parts.enter_context(self.series)
        return self

    def __exit__(self, *_: object) -> None:
        self._parts.close()
