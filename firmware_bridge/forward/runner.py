"""The task that leads one sink along the store: read on, send, settle, and wait when it must.

The store is the only queue. What a sink has not taken stays there, and the next start goes on from
the sink's cursor; so a stop may come at any moment and loses nothing.
"""

from __future__ import annotations

import asyncio
import contextlib
import random
import threading
from collections.abc import Callable, Sequence
from enum import StrEnum
from typing import Any, TypeVar

import msgspec
import structlog

from analytics.errors import LastLitreError, PartialWrite
from firmware_bridge.forward.sink import OpenSink, Sink, SinkBusy, SiteCard
from firmware_bridge.store.out_row import Outbox, OutRow

log = structlog.get_logger(__name__)

URGENT = frozenset(("alarm", "event"))
"""Kinds that do not wait for company."""

LOOK_BACK = 2000
"""A summary looks through so many of the newest rows at most."""

_T = TypeVar("_T")


class Pace(msgspec.Struct, frozen=True, kw_only=True):
    """How often and how long, in seconds."""

    poll_s: float = 1.0
    linger_s: float = 5.0
    """How long readings may wait for others to share a message with."""
    now_every_s: float = 10.0
    first_wait_s: float = 1.0
    longest_wait_s: float = 60.0
    mend_wait_s: float = 300.0
    """Between tries when a person has to mend something first."""
    stop_s: float = 5.0
    """How long a stop may take to deliver what is left."""


class Condition(StrEnum):
    """How a sink is doing."""

    STARTING = "starting"
    FLOWING = "flowing"
    AWAY = "away"  # no answer: tried again by itself
    REFUSED = "refused"  # a person has to mend something
    STOPPED = "stopped"


class SinkStatus(msgspec.Struct, frozen=True, kw_only=True):
    """What there is to show of a sink; counts are since the start.

    `sent` counts rows handed to the sink, tries included; `accepted` and `rejected` rows settled;
    `retries` failed tries. `backlog` are rows of the store not yet settled; `shown_up_to_ms` is the
    time of the newest row accepted. `trouble` and `hint` are empty while rows flow.
    """

    name: str
    condition: Condition = Condition.STARTING
    sent: int = 0
    accepted: int = 0
    rejected: int = 0
    retries: int = 0
    backlog: int = 0
    cursor: int = 0
    shown_up_to_ms: int | None = None
    trouble: str = ""
    hint: str = ""


def wait_s(tries: int, pace: Pace, rng: random.Random) -> float:
    """Seconds before the next try: doubling from `first_wait_s`, capped, then 50 to 100 % of it."""
    longest = min(pace.longest_wait_s, pace.first_wait_s * 2.0 ** min(tries - 1, 30))
    return longest * rng.uniform(0.5, 1.0)


class Forwarder:
    """One sink's way along the store. `status` may be read at any time."""

    def __init__(
        self,
        *,
        name: str,
        sink: Sink,
        options: msgspec.Struct,
        card: SiteCard,
        outbox: Outbox,
        now_ms: Callable[[], int],
        rng: random.Random,
        pace: Pace = Pace(),  # noqa: B008 - it is frozen
    ) -> None:
        self.status = SinkStatus(name=name)
        self._kind = sink
        self._make: Callable[[], OpenSink] = lambda: sink.open(options, card, now_ms)
        self._outbox = outbox
        self._rng = rng
        self._pace = pace
        self._sink: OpenSink | None = None
        self._sent_up_to: int | None = None
        self._tries = 0
        self._waiting_since: float | None = None
        self._now_due_at = 0.0
        self._shown_up_to = 0

    async def run(self, stop: asyncio.Event) -> None:
        """Follow the store until `stop`, then deliver what `stop_s` allows and take leave."""
        work = asyncio.create_task(self._work(stop))
        stopping = asyncio.create_task(stop.wait())
        try:
            await asyncio.wait({work, stopping}, return_when=asyncio.FIRST_COMPLETED)
            await asyncio.wait({work}, timeout=self._pace.stop_s)
            await self._take_leave()
        finally:
            for task in (work, stopping):
                task.cancel()
            await asyncio.gather(work, stopping, return_exceptions=True)
            self._note(condition=Condition.STOPPED)
        if not work.cancelled():
            work.result()

    async def _work(self, stop: asyncio.Event) -> None:
        while not stop.is_set():
            pause = await self._turn(last=False)
            with contextlib.suppress(TimeoutError):
                async with asyncio.timeout(pause):
                    await stop.wait()
        while self._tries == 0 and await self._turn(last=True) == 0:
            pass

    async def _turn(self, last: bool) -> float:
        """One look at the store and at most one send: seconds until the next is due."""
        try:
            return await self._deliver(last)
        except LastLitreError as exc:
            return self._failed(exc)
        except Exception as exc:  # a sink's fault must not stop the record
            log.exception("sink.broken", sink=self.status.name)
            return self._failed(
                LastLitreError(f"{type(exc).__name__}: {exc}", "Report this fault.")
            )

    async def _deliver(self, last: bool) -> float:
        rows, newest = await self._look()
        sink = await self._opened()
        if self._now_is_due(newest):
            await self._show_now(sink, newest)
        more = bool(rows) and rows[-1].seq < newest
        if not (more or last or self._have_waited(rows)):
            return self._pace.poll_s
        if rows:
            await self._send(sink, rows)
        self._recovered()
        return 0.0 if more else self._pace.poll_s

    async def _look(self) -> tuple[list[OutRow], int]:
        """The next rows, and the newest number there was just before."""
        if self._sent_up_to is None:
            self._sent_up_to = await asyncio.to_thread(self._outbox.cursor, self.status.name)
            self._note(cursor=self._sent_up_to)
        newest = await asyncio.to_thread(self._outbox.newest)
        limit = self._kind.rows_a_send
        rows = await asyncio.to_thread(self._outbox.read, self._sent_up_to, limit)
        self._note(backlog=max(newest - self.status.cursor, 0))
        return rows, newest

    async def _opened(self) -> OpenSink:
        if self._sink is None:
            self._sink = await in_own_thread(self._make)
        return self._sink

    def _have_waited(self, rows: Sequence[OutRow]) -> bool:
        """Whether the rows need not wait for more to share a message with."""
        now = asyncio.get_running_loop().time()
        if self._waiting_since is None or not rows:
            self._waiting_since = now if rows else None
        if any(row.kind in URGENT for row in rows):
            return True
        return self._waiting_since is None or now - self._waiting_since >= self._pace.linger_s

    def _now_is_due(self, newest: int) -> bool:
        if not self._kind.shows_now or newest <= self._shown_up_to:
            return False
        return asyncio.get_running_loop().time() >= self._now_due_at

    async def _show_now(self, sink: OpenSink, newest: int) -> None:
        """Hand the rows over that came since the last time, past the ones that still wait."""
        after = max(newest - LOOK_BACK, self._shown_up_to)
        rows = await asyncio.to_thread(self._outbox.read, after, LOOK_BACK)
        if rows:
            await in_own_thread(lambda: sink.show_now(rows))
        self._shown_up_to = max(newest, rows[-1].seq if rows else 0)
        self._now_due_at = asyncio.get_running_loop().time() + self._pace.now_every_s

    async def _send(self, sink: OpenSink, rows: Sequence[OutRow]) -> None:
        self._note(sent=self.status.sent + len(rows))
        up_to, rejected = await in_own_thread(lambda: _hand_over(sink, rows))
        if rejected:
            why = next(iter(rejected.values()))
            log.warning("sink.refused", sink=self.status.name, rows=len(rejected), why=why)
        up_to = max(up_to, self.status.cursor)
        await asyncio.to_thread(self._outbox.settle, self.status.name, up_to, rejected)
        self._settled(rows, up_to, len(rejected))

    def _settled(self, rows: Sequence[OutRow], up_to: int, rejected: int) -> None:
        self._sent_up_to = rows[-1].seq
        self._waiting_since = None
        self._note(
            cursor=up_to,
            accepted=self.status.accepted + len(rows) - rejected,
            rejected=self.status.rejected + rejected,
            backlog=max(self.status.backlog - (up_to - self.status.cursor), 0),
            shown_up_to_ms=rows[-1].at_ms,
        )

    def _failed(self, exc: LastLitreError) -> float:
        """Count and tell a failed try (a warning the first time): seconds to wait."""
        self._tries += 1
        by_itself = getattr(exc, "retryable", True)
        pause = wait_s(self._tries, self._pace, self._rng) if by_itself else self._pace.mend_wait_s
        if isinstance(exc, SinkBusy):
            pause = max(pause, exc.rest_s)
        tell = log.warning if self._tries == 1 else log.debug
        tell(
            "sink.away", sink=self.status.name, why=str(exc), hint=exc.hint, tries=self._tries,
            wait_s=round(pause, 1),
        )  # fmt: skip
        self._note(
            condition=Condition.AWAY if by_itself else Condition.REFUSED,
            retries=self.status.retries + 1,
            trouble=str(exc),
            hint=exc.hint,
        )
        return pause

    def _recovered(self) -> None:
        if self._tries:
            log.info("sink.back", sink=self.status.name, tries=self._tries)
        self._tries = 0
        if self.status.condition is not Condition.FLOWING:
            self._note(condition=Condition.FLOWING, trouble="", hint="")

    async def _take_leave(self) -> None:
        if self._sink is None:
            return
        with contextlib.suppress(TimeoutError):  # it hangs up by itself when the process ends
            async with asyncio.timeout(self._pace.stop_s):
                await in_own_thread(self._sink.close)

    def _note(self, **changes: object) -> None:
        self.status = msgspec.structs.replace(self.status, **changes)


def _hand_over(sink: OpenSink, rows: Sequence[OutRow]) -> tuple[int, dict[int, str]]:
    """Send; what the sink is done with, and the rows it will never take. Raises SinkError."""
    rejected: dict[int, str] = {}
    try:
        sink.send(rows)
    except PartialWrite as exc:
        rejected = exc.rejected
    return sink.durable_up_to(), rejected


async def in_own_thread(work: Callable[[], _T]) -> _T:
    """Run blocking work in a thread that may be left behind, which no worker of a pool may be.

    A pool's threads are waited for at the end of the process, so a server that never answers would
    hold up the stop.
    """
    loop = asyncio.get_running_loop()
    answer: asyncio.Future[_T] = loop.create_future()

    def do() -> None:
        try:
            result = work()
        except Exception as exc:  # noqa: BLE001 - raised again where the answer is awaited
            tell(answer.set_exception, exc)
        else:
            tell(answer.set_result, result)

    def tell(how: Callable[[Any], None], what: object) -> None:
        with contextlib.suppress(RuntimeError):  # the loop is closed: nobody waits any more
            loop.call_soon_threadsafe(lambda: None if answer.done() else how(what))

    threading.Thread(target=do, name="sink", daemon=True).start()
    return await answer
