"""The fleet at work: records opened, an ingest worker on the broker, what tidies up behind it.

with Fleet(fleet_file) as fleet: ...   fleet.records is for the pages; any thread may use it
"""

from __future__ import annotations

import time
from collections.abc import Callable
from contextlib import ExitStack
from typing import Self

from firmware_bridge.fleet.config import FleetFile
from firmware_bridge.fleet.ingest.keeper import Keeper
from firmware_bridge.fleet.ingest.worker import Worker, WorkerPace
from firmware_bridge.fleet.records.engine import Records, open_records


class Fleet:
    """All of a fleet that runs in this process; `file` is what it was started with."""

    def __init__(
        self,
        file: FleetFile,
        *,
        pace: WorkerPace = WorkerPace(),  # noqa: B008 - it is frozen
        now_ms: Callable[[], int] = lambda: time.time_ns() // 1_000_000,
    ) -> None:
        """Open the records; raises StoreError. Nothing is read from the broker before `with`."""
        self.file = file
        self.now_ms = now_ms
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
        self._parts = ExitStack()

    def __enter__(self) -> Self:
        self._parts.callback(self.records.close)
        self._parts.enter_context(self.worker)
        return self

    def __exit__(self, *_: object) -> None:
        self._parts.close()
