"""What is to be done now and then, whoever does it: silence noticed, readings thinned, old things
taken in again.

    silence   every minute, by our own clock: a site that says nothing is not well, it is unknown
    thinning  readings become values by the minute with age, and go in the end; the rest stays
    newer     messages of a newer program that were kept aside are understood after an upgrade

All of it may run in any number of processes at once: it does no harm twice.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from typing import Self

import msgspec
import structlog

from analytics.errors import StoreError
from firmware_bridge.fleet.config import Keep
from firmware_bridge.fleet.ingest.keeper import Keeper
from firmware_bridge.fleet.records.engine import Records
from firmware_bridge.fleet.records.silence import note_silence
from firmware_bridge.fleet.records.thinning import thin
from firmware_bridge.fleet.taken_again import take_again

log = structlog.get_logger(__name__)


class CarePace(msgspec.Struct, frozen=True, kw_only=True):
    """How often, in seconds."""

    silence_s: float = 60.0
    thinning_s: float = 600.0
    rest_s: float = 0.2
    """Between two steps of thinning, so that those who write get their turn."""


class Caretaker:
    """Use it as `with Caretaker(...)`; it works on a thread of its own."""

    def __init__(
        self,
        records: Records,
        keeper: Keeper,
        keep: Keep,
        *,
        silent_after_ms: int,
        pace: CarePace = CarePace(),  # noqa: B008 - it is frozen
        now_ms: Callable[[], int],
    ) -> None:
        self._records = records
        self._keeper = keeper
        self._keep = keep
        self._silent_after_ms = silent_after_ms
        self._pace = pace
        self._now_ms = now_ms
        self._stopping = threading.Event()
        self._thread = threading.Thread(target=self._run, name="caretaker", daemon=True)

    def __enter__(self) -> Self:
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._stopping.set()
        self._thread.join()

    def _run(self) -> None:
        taken, silence_at_s, thinning_at_s = False, 0.0, 0.0
        while not self._stopping.is_set():
            now_s = time.monotonic()
            try:
                if not taken:
                    take_again(self._records, self._keeper, self._now_ms())
                    taken = True
                if now_s >= silence_at_s:
                    silence_at_s = now_s + self._pace.silence_s
                    note_silence(self._records, self._now_ms(), self._silent_after_ms)
                if now_s >= thinning_at_s:
                    thinning_at_s = now_s + self._pace.thinning_s
                    self._thin()
            except StoreError as exc:
                log.warning("caretaker.waits", why=str(exc), hint=exc.hint)
            except Exception:  # a fault here must not end the care for good
                log.exception("caretaker.broken")
            self._stopping.wait(1.0)

    def _thin(self) -> None:
        while not self._stopping.is_set() and thin(self._records, self._keep, self._now_ms()):
            self._stopping.wait(self._pace.rest_s)
