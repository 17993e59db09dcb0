"""One notifier at work: follows the journal, sends what is due, remembers what went out.

What is due follows from the stored journal and the stored keys of what went out, so a restart
neither loses nor repeats anything; a crash between sending and storing the key sends that message
again under the same key. Failures wait longer and longer, and what piled up meanwhile goes out as
one message.
"""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import Callable
from enum import StrEnum

import msgspec
import structlog

from analytics.errors import LastLitreError, SinkError, StoreError
from analytics.samples import DAY_MS
from analytics.setup import LocalTime
from firmware_bridge.backoff import Backoff
from firmware_bridge.forward.runner import in_own_thread
from firmware_bridge.notify.due import BEGIN, due
from firmware_bridge.notify.episodes import Episodes, taken_in
from firmware_bridge.notify.notice import (
    Message,
    Notice,
    Notifier,
    OpenNotifier,
    Teller,
    Why,
    message_key,
)
from firmware_bridge.notify.policy import Policy
from firmware_bridge.store.batch import Batch
from firmware_bridge.store.database import Store
from firmware_bridge.store.reader import Reader

log = structlog.get_logger(__name__)

LOOK_BACK_MS = 400 * DAY_MS


class Pace(msgspec.Struct, frozen=True, kw_only=True):
    """How often and how much, in real time.

    A message waits `gather_s` for others to share it, an urgent one does not; in any hour at most
    `most_an_hour` go out, urgent ones a few more.
    """

    poll_s: float = 2.0
    gather_s: float = 30.0
    first_wait_s: float = 5.0
    longest_wait_s: float = 900.0
    mend_wait_s: float = 600.0
    most_an_hour: int = 12
    urgent_more: int = 6


class Condition(StrEnum):
    """How a notifier is doing."""

    READY = "ready"
    AWAY = "away"  # tried again by itself
    REFUSED = "refused"  # a person has to mend something


class NotifierStatus(msgspec.Struct, frozen=True, kw_only=True):
    """What there is to show of a notifier; counts are since the start.

    `trouble` is empty while it works; `last_trouble` is what was wrong last, `last_trouble_ms`
    when, `worked_ms` when a message last went out, `waits_since_ms` since when some wait.
    """

    name: str
    condition: Condition = Condition.READY
    sent: int = 0
    failed: int = 0
    waiting: int = 0
    trouble: str = ""
    hint: str = ""
    waits_since_ms: int | None = None
    last_trouble: str = ""
    last_trouble_ms: int | None = None
    worked_ms: int | None = None


class NotifyLoop:
    """One notifier's way along the journal. `status` may be read at any time."""

    def __init__(
        self,
        *,
        name: str,
        notifier: Notifier,
        options: msgspec.Struct,
        policy: Policy,
        teller: Teller,
        site_id: str,
        local: LocalTime,
        store: Store,
        now_ms: Callable[[], int],
        pace: Pace = Pace(),  # noqa: B008 - it is frozen
    ) -> None:
        self.status = NotifierStatus(name=name)
        self._make: Callable[[], OpenNotifier] = lambda: notifier.open(options, site_id)
        self._policy = policy
        self._teller = teller
        self._site_id = site_id
        self._local = local
        self._store = store
        self._now_ms = now_ms
        self._pace = pace
        self._backoff = Backoff(pace.first_wait_s, pace.longest_wait_s)
        self._open: OpenNotifier | None = None
        self._episodes = Episodes()
        self._sent: dict[str, int] | None = None
        self._unstored: list[tuple[str, str, int]] = []
        self._under_way: Message | None = None
        self._due_since: float | None = None
        self._sent_at: list[float] = []

    async def run(self, stop: asyncio.Event) -> None:
        """Tell what is due until told to stop."""
        reader = self._store.reader()
        try:
            while not stop.is_set():
                pause = await self.turn(reader)
                with contextlib.suppress(TimeoutError):
                    async with asyncio.timeout(pause):
                        await stop.wait()
        finally:
            reader.close()
            if self._open is not None:
                await in_own_thread(self._open.close)

    async def turn(self, reader: Reader) -> float:
        """One look and at most one message: seconds until the next look."""
        await self._look(reader)
        message = self._under_way or self._next_message()
        if message is None:
            return self._pace.poll_s
        self._under_way = message
        try:
            if self._open is None:
                self._open = await in_own_thread(self._make)
            notifier = self._open
            await in_own_thread(lambda: notifier.send(message))
        except LastLitreError as fault:
            return self._failed(fault)
        except Exception as fault:  # a notifier's fault must not stop the record
            log.exception("notifier.broken", notifier=self.status.name)
            return self._failed(SinkError(f"{type(fault).__name__}: {fault}", "Report this fault."))
        await self._went_out(message)
        return 0.0

    async def _look(self, reader: Reader) -> None:
        """Take in what the journal has got, and what is known to have gone out."""
        if self._sent is None:
            self._sent = await asyncio.to_thread(reader.notices, self.status.name)
            since = self._now_ms() - LOOK_BACK_MS
            changes = await asyncio.to_thread(reader.alarm_changes, None, since)
            if BEGIN not in self._sent:
                self._note_sent([BEGIN])
        else:
            changes = await asyncio.to_thread(reader.alarm_changes_after, self._episodes.up_to_seq)
        self._episodes = taken_in(self._episodes, changes)
        await self._store_sent()

    def _next_message(self) -> Message | None:
        """What is due as one message, if it need not wait any more."""
        now = self._now_ms()
        notices = due(
            self._site_id, self._episodes, self._sent or {}, self._policy, self._local, now
        )
        since = (self.status.waits_since_ms or now) if notices else None
        self._note(waiting=len(notices), waits_since_ms=since)
        escalated = tuple(n for n in notices if n.why is Why.ESCALATED)
        chosen = escalated or notices
        if not chosen or not self._may_go(chosen):
            return None
        self._due_since = None
        return Message(
            key=message_key(chosen),
            site_id=self._site_id,
            at_ms=now,
            notices=chosen,
            told=self._teller.tell(chosen, now),
            escalated=bool(escalated),
        )

    def _may_go(self, notices: tuple[Notice, ...]) -> bool:
        """Whether they have waited for company, and the hour has room for a message."""
        now = asyncio.get_running_loop().time()
        if self._due_since is None:
            self._due_since = now
        urgent = any(notice.urgent for notice in notices)
        self._sent_at = [at for at in self._sent_at if at > now - 3600.0]
        room = self._pace.most_an_hour + (self._pace.urgent_more if urgent else 0)
        if len(self._sent_at) >= room:
            return False
        return urgent or now - self._due_since >= self._pace.gather_s

    async def _went_out(self, message: Message) -> None:
        self._under_way = None
        self._sent_at.append(asyncio.get_running_loop().time())
        self._note_sent([notice.key for notice in message.notices])
        if self._backoff.worked():
            log.info("notifier.back", notifier=self.status.name)
        self._note(
            condition=Condition.READY,
            sent=self.status.sent + 1,
            trouble="",
            hint="",
            worked_ms=self._now_ms(),
        )
        await self._store_sent()

    def _note_sent(self, keys: list[str]) -> None:
        now, sent = self._now_ms(), self._sent if self._sent is not None else {}
        for key in keys:
            sent[key] = now
            self._unstored.append((self.status.name, key, now))
        self._sent = sent

    async def _store_sent(self) -> None:
        """Keep the keys of what went out; where there is no room they wait in memory."""
        if not self._unstored:
            return
        notices = tuple(self._unstored)
        try:
            await asyncio.wrap_future(self._store.submit(Batch(notices=notices)))
        except StoreError as fault:
            log.warning("notifier.not-kept", notifier=self.status.name, error=str(fault))
            return
        self._unstored = self._unstored[len(notices) :]

    def _failed(self, fault: LastLitreError) -> float:
        """Count and tell a failed try (a warning the first time): seconds to wait."""
        by_itself = getattr(fault, "retryable", True)
        pause = self._backoff.failed()
        if not by_itself:
            pause = max(pause, self._pace.mend_wait_s)
        tell = log.warning if self._backoff.first else log.debug
        tell("notifier.away", notifier=self.status.name, why=str(fault), hint=fault.hint)
        self._note(
            condition=Condition.AWAY if by_itself else Condition.REFUSED,
            failed=self.status.failed + 1,
            trouble=str(fault),
            hint=fault.hint,
            last_trouble=str(fault),
            last_trouble_ms=self._now_ms(),
        )
        return pause

    def _note(self, **changes: object) -> None:
        self.status = msgspec.structs.replace(self.status, **changes)
