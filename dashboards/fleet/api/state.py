"""What the routes work with: the records, who asked how fast, what was learnt."""

from __future__ import annotations

import math
import threading
import time
from collections.abc import Callable

from analytics.fleet.due import Rules as DueRules
from dashboards.access.patience import Patience
from dashboards.access.rules import Rules
from dashboards.fleet.api import door
from dashboards.fleet.api.pace import Pace
from dashboards.fleet.api.problems import Refusal
from firmware_bridge.fleet.identity.enrolling import Enrolling
from firmware_bridge.fleet.identity.tokens import Bearer, bearer_of, note_used
from firmware_bridge.fleet.priors import Taught, learnt_from
from firmware_bridge.fleet.records.engine import Records

NOTED_EVERY_S = 60.0
LEARNT_EVERY_S = 600.0


def wall_ms() -> int:
    """The wall clock."""
    return time.time_ns() // 1_000_000


class Api:
    """What the routes work with. `rules` say whose word about callers is taken; without `enrolling`
    no site joins by a code."""

    def __init__(
        self,
        records: Records,
        *,
        rules: Rules = Rules(),  # noqa: B008 - it is frozen
        now_ms: Callable[[], int] = wall_ms,
        clock: Callable[[], float] = time.monotonic,
        pace: Pace | None = None,
        enrolling: Enrolling | None = None,
        silent_ms: int = DueRules().silent_ms,
    ) -> None:
        self.records = records
        self.enrolling = enrolling
        self.silent_ms = silent_ms
        self.patience = Patience(clock, joint=False)
        self.rules = rules
        self.now_ms = now_ms
        self.pace = pace or Pace(clock)
        self._clock = clock
        self._noted: dict[int, float] = {}
        self._learning = threading.Lock()
        self._taught: Taught | None = None
        self._taught_s = -math.inf

    def bearer(self, text: str, weight: float = 1.0) -> Bearer:
        """Whom a token speaks for; raises Refusal where it does not work or asks too fast."""
        now_ms = self.now_ms()
        with self.records.read() as connection:
            found = bearer_of(connection, text, now_ms)
        if found is None:
            raise door.unknown_token()
        if wait_s := self.pace.wait_s(found.token_no, weight):
            seconds = str(math.ceil(wait_s))
            raise Refusal(429, f"Ask again in {seconds} s.", retry_after=seconds)
        self._note(found.token_no, now_ms)
        return found

    def taught(self) -> Taught:
        """What the cartridges taught, learnt anew every so often by one request at a time."""
        with self._learning:
            if self._taught is None or self._clock() - self._taught_s > LEARNT_EVERY_S:
                self._taught, self._taught_s = learnt_from(self.records), self._clock()
            return self._taught

    def _note(self, token_no: int, now_ms: int) -> None:
        now_s = self._clock()
        if now_s - self._noted.get(token_no, -math.inf) < NOTED_EVERY_S:
            return
        self._noted[token_no] = now_s
        with self.records.begin() as connection:
            note_used(connection, token_no, now_ms)
