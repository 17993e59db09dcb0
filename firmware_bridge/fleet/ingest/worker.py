"""An ingest worker: one of any number of identical ones, each a thread with a line to the broker.

    gather what came -> keep it in one step (on the disk) -> tell the sites "durable up to N"

A worker keeps nothing that another one could need: killed at any moment, it loses what was not
confirmed, and the sites send that again. While the database is away it hangs up, so that the broker
gives the messages to others, and tries again; so it does with a broker that is away.
"""

from __future__ import annotations

import secrets
import threading
import time
from collections.abc import Callable
from typing import Self

import structlog

from analytics.errors import LastLitreError
from firmware_bridge.backoff import Backoff
from firmware_bridge.fleet.ingest.confirming import (
    adopted_sites,
    newly_adopted,
    safe_up_to,
    still_missing,
)
from firmware_bridge.fleet.ingest.gate import Allowance, Gate
from firmware_bridge.fleet.ingest.keeper import Answer, Keeper
from firmware_bridge.fleet.ingest.line import Line
from firmware_bridge.fleet.ingest.messages import site_of
from firmware_bridge.fleet.records.engine import Records
from firmware_bridge.forward.broker import MqttOptions
from firmware_bridge.forward.payloads import durable_message, wanted_message
from firmware_bridge.receiver.gaps import GapPace, Gaps

log = structlog.get_logger(__name__)

TOGETHER = 1000
"""Messages kept in one step at most."""
SAID_AT_ONCE = 200
"""Sites that are answered by one look at the records."""


class WorkerPace(GapPace, frozen=True, kw_only=True):
    """How often, in seconds; how much one site may say."""

    wait_s: float = 0.5
    linger_s: float = 0.4
    """A step waits so long for company: few large steps cost less than many small ones."""
    look_s: float = 1.0
    greet_s: float = 3.0
    """How often to look for gaps, and for sites that were adopted."""
    greet_again_s: float = 30.0
    longest_wait_s: float = 15.0
    allowance: Allowance = Allowance()


class Worker:
    """Use it as `with Worker(...)`; it works on a thread of its own until the end."""

    def __init__(
        self,
        records: Records,
        options: MqttOptions,
        group: str,
        keeper: Keeper,
        *,
        pace: WorkerPace = WorkerPace(),  # noqa: B008 - it is frozen
        now_ms: Callable[[], int] = lambda: time.time_ns() // 1_000_000,
    ) -> None:
        self.keeper = keeper
        self.connected = threading.Event()
        self._records = records
        self._options = options
        self._group = group
        self._pace = pace
        self._now_ms = now_ms
        self._name = f"{options.client_id or 'lastlitre-fleet'}-{secrets.token_hex(4)}"
        self._gate = Gate(pace.allowance)
        self._gaps = Gaps(pace)
        self._greeted: dict[str, float] = {}
        self._look_at_s = 0.0
        self._greet_at_s = 0.0
        self._stopping = threading.Event()
        self._thread = threading.Thread(target=self.run, name="ingest", daemon=True)

    def __enter__(self) -> Self:
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.stop()
        self._thread.join()

    def stop(self) -> None:
        """End after the step under way."""
        self._stopping.set()

    def run(self) -> None:
        """Work until told to stop; broker and database may come and go."""
        backoff = Backoff(0.2, self._pace.longest_wait_s)
        while not self._stopping.is_set():
            try:
                self._converse(backoff)
            except LastLitreError as exc:
                wait_s = backoff.failed()
                if backoff.first:
                    log.warning("ingest.waits", why=str(exc), hint=exc.hint)
            except Exception as exc:  # a fault of ours must not end the intake for all sites
                wait_s = backoff.failed()
                log.exception("ingest.broken", why=f"{type(exc).__name__}: {exc}")
            else:
                continue
            finally:
                self.connected.clear()
            self._stopping.wait(wait_s)

    def _converse(self, backoff: Backoff) -> None:
        with self._records.read() as connection:
            sites = adopted_sites(connection)
        with Line(self._options, self._name, self._group, self._admits) as line:
            if backoff.worked():
                log.info("ingest.at_work_again")
            for site, up_to in sites:
                line.publish(durable_message(site, self._options.topic_prefix, up_to))
            self.connected.set()
            while not self._stopping.is_set():
                self._turn(line)

    def _turn(self, line: Line) -> None:
        messages = line.gather(TOGETHER, self._pace.wait_s, self._pace.linger_s)
        if messages:
            self._answer(line, self.keeper.take(messages, self._now_ms()))
        now_s = time.monotonic()
        if now_s >= self._look_at_s:
            self._look_at_s = now_s + self._pace.look_s
            self._look(line, now_s)

    def _answer(self, line: Line, answers: list[Answer]) -> None:
        """Say what is safe: as it is at this moment, so that a worker that was slower than another
        one does not say less after it."""
        now_s, prefix = time.monotonic(), self._options.topic_prefix
        for start in range(0, len(answers), SAID_AT_ONCE):
            some = answers[start : start + SAID_AT_ONCE]
            with self._records.read() as connection:
                safe = safe_up_to(self._records, connection, [answer.site for answer in some])
            for answer in some:
                if answer.site in safe:
                    line.publish(durable_message(answer.site, prefix, safe[answer.site]))
                if self._gaps.look(answer.site, answer.missing, now_s):
                    line.publish(wanted_message(answer.site, prefix, answer.missing), qos=1)

    def _look(self, line: Line, now_s: float) -> None:
        """Ask for numbers that are still missing, greet who was adopted, shut out who floods."""
        self._gate.sweep(now_s)
        if shut := self._gate.newly_shut():
            self.keeper.shut_out(shut, self._now_ms(), self._pace.allowance.shut_s)
        if due := self._gaps.due(now_s):
            self._ask(line, due, now_s)
        if now_s >= self._greet_at_s:
            self._greet_at_s = now_s + self._pace.greet_s
            self._greet(line, now_s)

    def _ask(self, line: Line, due: list[str], now_s: float) -> None:
        """Ask sites for what they still owe; another worker may have had it meanwhile."""
        with self._records.read() as connection:
            missing = still_missing(self._records, connection, due)
        for site in due:
            if site not in missing:
                self._gaps.forget(site)
            elif self._gaps.look(site, missing[site], now_s):
                told = wanted_message(site, self._options.topic_prefix, missing[site])
                line.publish(told, qos=1)

    def _greet(self, line: Line, now_s: float) -> None:
        """Tell sites that were adopted, and of which nothing is held, that somebody listens."""
        with self._records.read() as connection:
            adopted = newly_adopted(connection)
        for site in adopted:
            if now_s - self._greeted.get(site, -1e9) >= self._pace.greet_again_s:
                self._greeted[site] = now_s
                line.publish(durable_message(site, self._options.topic_prefix, 0))

    def _admits(self, topic: str) -> bool:
        return self._gate.admits(site_of(topic, self._options.topic_prefix), time.monotonic())
