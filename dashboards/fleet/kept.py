"""What takes its time and is asked for again and again, kept for a moment; no act outlives it."""

from __future__ import annotations

import threading
import time
from collections import OrderedDict
from collections.abc import Callable, Hashable
from typing import Any, TypeVar

import msgspec
import structlog

from analytics.errors import StoreError
from firmware_bridge.fleet.records.engine import Records
from firmware_bridge.fleet.records.sight import Connection

Kind = TypeVar("Kind")
MOST = 24

log = structlog.get_logger(__name__)


class _Held(msgspec.Struct, frozen=True):
    at_ms: int
    round: int
    answer: Any


class Kept:
    """Answers by what was asked; any thread may use it. `clock_ms` says how old they are: it goes
    on whatever the clock of the sites does."""

    def __init__(
        self,
        records: Records,
        clock_ms: Callable[[], int] = lambda: time.monotonic_ns() // 1_000_000,
    ) -> None:
        self._records = records
        self._now_ms = clock_ms
        self._turn = threading.Lock()
        self._held: OrderedDict[Hashable, _Held] = OrderedDict()
        self._making: dict[Hashable, threading.Lock] = {}
        self._round = 0
        """Counts acts: what was made before one is made again after it."""

    def get(
        self, key: Hashable, make: Callable[[Connection], Kind], for_ms: int, stale_ms: int = 0
    ) -> Kind:
        """The answer to `key`, at most `for_ms` old; made once for all who ask meanwhile.

        One that is older, but not older than `stale_ms`, is given while a newer one is made.
        """
        with self._turn:
            kept = self._held.get(key)
            making = self._making.setdefault(key, threading.Lock())
        if kept is not None and self._is_fresh(kept, for_ms):
            fresh: Kind = kept.answer
            return fresh
        if kept is not None and 0 <= self._now_ms() - kept.at_ms < stale_ms:
            if making.acquire(blocking=False):
                threading.Thread(target=self._renew, args=(key, make, making), daemon=True).start()
            stale: Kind = kept.answer
            return stale
        with making:
            with self._turn:
                kept = self._held.get(key)
            if kept is not None and self._is_fresh(kept, for_ms):
                made_meanwhile: Kind = kept.answer
                return made_meanwhile
            return self._made(key, make)

    def forget(self) -> None:
        """Something was done: everything is made anew when it is asked for."""
        with self._turn:
            self._round += 1

    def _is_fresh(self, kept: _Held, for_ms: int) -> bool:
        return kept.round == self._round and 0 <= self._now_ms() - kept.at_ms < for_ms

    def _renew(
        self, key: Hashable, make: Callable[[Connection], Any], making: threading.Lock
    ) -> None:
        try:
            self._made(key, make)
        except StoreError as error:
            log.warning("fleet.not-renewed", reason=str(error))
        finally:
            making.release()

    def _made(self, key: Hashable, make: Callable[[Connection], Kind]) -> Kind:
        begun, at_ms = self._round, self._now_ms()
        with self._records.read() as connection:
            answer = make(connection)
        with self._turn:
            self._held[key] = _Held(at_ms, begun, answer)
            self._held.move_to_end(key)
            while len(self._held) > MOST:
                old, _ = self._held.popitem(last=False)
                self._making.pop(old, None)
        return answer
