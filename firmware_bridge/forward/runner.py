"""The task that leads one sink along the store: read on, send, settle, and wait when it must.

The store is the only queue. What a sink has not taken stays there, and the next start goes on from
the sink's cursor; so a stop may come at any moment and loses nothing. The cursor follows what the
far side has for good (`Heard.durable_up_to`), not what was sent.
"""

from __future__ import annotations

import asyncio
import contextlib
import random
import threading
from collections.abc import Callable, Sequence
from typing import Any, TypeVar

import msgspec
import structlog

from analytics.errors import LastLitreError, PartialWrite, SinkError
from firmware_bridge.forward.sink import Heard, OpenSink, Parcel, Sink, SinkBusy, SiteCard
from firmware_bridge.forward.status import Condition, Pace, SinkStatus, wait_s
from firmware_bridge.forward.way import Way, again
from firmware_bridge.store.out_row import Outbox, OutRow

__all__ = ["Condition", "Forwarder", "Pace", "SinkStatus", "in_own_thread", "wait_s"]

log = structlog.get_logger(__name__)

URGENT = frozenset(("alarm", "event"))
"""Kinds that do not wait for company."""

LOOK_BACK = 2000
"""A summary looks through so many of the newest rows at most."""

NOBODY_CONFIRMS = "rows are sent, but nobody says that they are kept"
START_A_RECEIVER = "See that the receiver runs and is joined to the same broker."

_T = TypeVar("_T")


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
        self._now_ms = now_ms
        self._rng = rng
        self._pace = pace
        self._sink: OpenSink | None = None
        self._way: Way | None = None
        self._repeated_last = False
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
        await self._last_word()

    async def _last_word(self) -> None:
        """Give a far side that has spoken before a moment to confirm what was just sent."""
        loop = asyncio.get_running_loop()
        end = loop.time() + (self._pace.last_word_s if self._kind.keeps_line else 0.0)
        while self._tries == 0 and self.status.under_way and loop.time() < end:
            await asyncio.sleep(self._pace.busy_s)
            await self._turn(last=True)
            if self._way is None or self._way.told is None:
                return

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
        way, newest = await self._look()
        sink = await self._opened()
        heard = await in_own_thread(sink.heard)
        if self._now_is_due(newest):
            await self._show_now(sink, newest)
        _believe(heard, newest)
        await self._settle(way, heard)
        parcel, pause = await self._next(way, heard, newest, last)
        if parcel is not None:
            await self._send(way, sink, parcel)
        if parcel is not None or self._kind.keeps_line or not self._tries:
            self._recovered(way)
        return pause

    async def _look(self) -> tuple[Way, int]:
        """How far this sink is, and the newest number there was just before."""
        if self._way is None:
            cursor = await asyncio.to_thread(self._outbox.cursor, self.status.name)
            self._way = Way(cursor)
        newest = await asyncio.to_thread(self._outbox.newest)
        self._tell(self._way, newest)
        return self._way, newest

    async def _opened(self) -> OpenSink:
        if self._sink is None:
            self._sink = await in_own_thread(self._make)
        return self._sink

    async def _settle(self, way: Way, heard: Heard) -> None:
        """Move the cursor to what the far side has for good: never past what was sent to it."""
        self._note(unreadable=heard.unreadable)
        up_to = way.cursor_for(heard.durable_up_to)
        if up_to == way.cursor:
            return
        await asyncio.to_thread(self._outbox.settle, self.status.name, up_to, {})
        if up_to < way.cursor:
            log.warning("sink.went_back", sink=self.status.name, was=way.cursor, now=up_to)
        confirmed = way.move(up_to, asyncio.get_running_loop().time())
        self._note(confirmed=self.status.confirmed + confirmed)
        self._tell(way, None)

    async def _next(
        self, way: Way, heard: Heard, newest: int, last: bool
    ) -> tuple[Parcel | None, float]:
        """What to send now, and the pause after it; a repeat and new rows take turns."""
        limit = self._kind.rows_a_send
        full = way.told is not None and 0 < self._kind.window_rows <= way.rows
        if heard.again is not None and (full or not self._repeated_last):
            self._repeated_last = True
            return await asyncio.to_thread(again, self._outbox, heard.again, limit), 0.0
        self._repeated_last = False
        if full:
            return None, self._pace.busy_s
        if self._kind.window_rows:
            way.begin_above(newest - self._kind.window_rows)
        rows = await asyncio.to_thread(self._outbox.read, way.read_up_to, limit)
        way.saw(rows)
        more = bool(rows) and rows[-1].seq < newest
        pause = 0.0 if more or heard.again is not None else self._pace.poll_s
        if not rows or not (more or last or self._have_waited(rows)):
            return None, self._pace.poll_s if heard.again is None else 0.0
        return Parcel(after=way.read_up_to, up_to=rows[-1].seq, rows=tuple(rows)), pause

    def _have_waited(self, rows: Sequence[OutRow]) -> bool:
        """Whether the rows need not wait for more to share a message with."""
        now = asyncio.get_running_loop().time()
        if self._waiting_since is None:
            self._waiting_since = now
        if any(row.kind in URGENT for row in rows):
            return True
        return now - self._waiting_since >= self._pace.linger_s

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

    async def _send(self, way: Way, sink: OpenSink, parcel: Parcel) -> None:
        self._note(sent=self.status.sent + len(parcel.rows))
        rejected = await in_own_thread(lambda: _hand_over(sink, parcel))
        new = way.sent(parcel, asyncio.get_running_loop().time())
        if rejected and new:
            why = next(iter(rejected.values()))
            log.warning("sink.refused", sink=self.status.name, rows=len(rejected), why=why)
            await asyncio.to_thread(self._outbox.settle, self.status.name, way.cursor, rejected)
        self._sent(parcel, new, len(rejected))
        self._tell(way, None)

    def _sent(self, parcel: Parcel, new: bool, rejected: int) -> None:
        taken = len(parcel.rows) - rejected
        if taken:
            self._note(worked_ms=self._now_ms())
        if not new:
            self._note(repeated=self.status.repeated + taken)
            return
        self._waiting_since = None
        self._note(
            accepted=self.status.accepted + taken,
            rejected=self.status.rejected + rejected,
            shown_up_to_ms=parcel.rows[-1].at_ms if parcel.rows else self.status.shown_up_to_ms,
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
            last_trouble=str(exc),
            last_trouble_ms=self._now_ms(),
        )
        return pause

    def _recovered(self, way: Way) -> None:
        if self._tries:
            log.info("sink.back", sink=self.status.name, tries=self._tries)
        self._tries = 0
        if way.unconfirmed_s(asyncio.get_running_loop().time()) > self._pace.unconfirmed_s:
            self._note(
                condition=Condition.UNCONFIRMED, trouble=NOBODY_CONFIRMS, hint=START_A_RECEIVER
            )
        elif self.status.condition is not Condition.FLOWING:
            self._note(condition=Condition.FLOWING, trouble="", hint="")

    async def _take_leave(self) -> None:
        if self._sink is None:
            return
        with contextlib.suppress(TimeoutError):  # it hangs up by itself when the process ends
            async with asyncio.timeout(self._pace.stop_s):
                await in_own_thread(self._sink.close)

    def _tell(self, way: Way, newest: int | None) -> None:
        """Bring the status up to date with the way."""
        self._note(
            cursor=way.cursor,
            under_way=way.rows,
            backlog=way.backlog(newest),
            waits_since_ms=way.waits_since_ms,
        )

    def _note(self, **changes: object) -> None:
        self.status = msgspec.structs.replace(self.status, **changes)


def _believe(heard: Heard, newest: int) -> None:
    """Raises SinkError where the far side has rows of this site that this file never gave.

    Then another file wrote under the site's name: the numbers of this one are taken there already,
    so its rows would be thought doubles. They wait.
    """
    if heard.durable_up_to is not None and heard.durable_up_to > newest:
        raise SinkError(
            f"the far side has rows up to number {heard.durable_up_to} of this site, "
            f"and this site's file has given {newest}",
            "Restore the site's file from its backup, or give this site an id of its own.",
            retryable=False,
        )


def _hand_over(sink: OpenSink, parcel: Parcel) -> dict[int, str]:
    """Send; the rows the far side will never take, with the reasons. Raises SinkError."""
    try:
        sink.send(parcel)
    except PartialWrite as exc:
        return exc.rejected
    return {}


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
