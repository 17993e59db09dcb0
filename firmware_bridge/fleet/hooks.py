"""Tells addresses of changes of alarms: in order, signed, tried again with longer and longer waits.

Where each address is stands in the records (a mark), so nothing is told twice over a restart and
nothing left out; what could not be told for a week is passed over. Of several processes one has the
turn, and another takes it over when that one is gone. Headers and signature are those of a site's
own webhook (`notify.channels.webhook`).
"""

from __future__ import annotations

import asyncio
import secrets
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor

import msgspec
import structlog

from analytics.errors import LastLitreError, SinkError
from analytics.samples import DAY_MS
from firmware_bridge.fleet.reach import Reach
from firmware_bridge.fleet.records import hook_rows
from firmware_bridge.fleet.records.engine import Records
from firmware_bridge.fleet.records.hook_rows import Change, Hook
from firmware_bridge.fleet.records.sight import ALL, Connection
from firmware_bridge.notify.channels.webhook import signature

MOST_PARCELS = 50
FIRST_WAIT_MS, LONGEST_WAIT_MS = 10_000, 3_600_000
FORGOTTEN_MS = 7 * DAY_MS
AT_ONCE = 8
EVERY_S = 2.0
TURN_MS = 120_000
"""Longer than a step takes, whoever does not answer."""

log = structlog.get_logger(__name__)


class Mark(msgspec.Struct, frozen=True, kw_only=True):
    """How far an address is: parcels up to `chunk_no` are told. `tries` failed since with what is
    up to `until`, the next is not before `next_ms`; `trouble` is what went wrong last. `secret`
    signs."""

    chunk_no: int
    secret: str
    until: int = 0
    tries: int = 0
    next_ms: int = 0
    trouble: str = ""


class ChangeJson(msgspec.Struct, frozen=True, kw_only=True):
    """One change of an alarm as it is told; numbers have their unit in their name."""

    site: str
    name: str
    line: str
    alarm: str
    change: str
    state: str
    priority: str
    at_ms: int
    numbers: dict[str, float]


class HookJson(msgspec.Struct, frozen=True, kw_only=True):
    """What is posted; whoever has seen a `key` may pass it over."""

    v: int = 1
    key: str
    changes: tuple[ChangeJson, ...]


def begin(records: Records, connection: Connection, hook_no: int) -> str:
    """A new address begins with what comes from now on; the secret it is signed with."""
    secret = secrets.token_urlsafe(32)
    mark = Mark(chunk_no=hook_rows.newest_chunk(connection), secret=secret)
    _keep(records, connection, hook_no, mark)
    return secret


def mark_of(records: Records, connection: Connection, hook_no: int) -> Mark | None:
    """How far an address is."""
    text = records.mark(connection, f"hook {hook_no}")
    return msgspec.json.decode(text, type=Mark) if text else None


class HookRunner:
    """Tells everybody who is due. `now_ms` is the wall clock."""

    def __init__(
        self, records: Records, reach: Reach | None = None,
        now_ms: Callable[[], int] = lambda: time.time_ns() // 1_000_000,
    ) -> None:  # fmt: skip
        self._records = records
        self._reach = reach or Reach()
        self._now_ms = now_ms
        self._name = secrets.token_hex(8)
        self._seen: dict[int, int] = {}
        """Up to which parcel nothing was found for an address; forgotten by a restart."""

    async def run(self, stop: asyncio.Event) -> None:
        """Tell until stopped; where the records are away it is tried again."""
        while not stop.is_set():
            try:
                await asyncio.to_thread(self.step)
            except LastLitreError as error:
                log.warning("hooks.waiting", reason=str(error))
            try:
                await asyncio.wait_for(stop.wait(), EVERY_S)
            except TimeoutError:
                continue

    def step(self) -> int:
        """Tell everybody who is due once; how many were told something.

        Nothing is written while there is nothing to tell. Numbers are given before they are
        committed, so the newest one is asked for first, and who was writing then is waited for.
        """
        now_ms = self._now_ms()
        with self._records.read() as connection:
            up_to = hook_rows.newest_chunk(connection)
        self._records.settle_chunks()
        due = self._due(now_ms, up_to)
        if not due or not self._my_turn(now_ms):
            return 0
        with ThreadPoolExecutor(min(AT_ONCE, len(due)), "hooks") as pool:
            return sum(pool.map(lambda pair: self._tell(pair[0], pair[1], up_to), due))

    def _due(self, now_ms: int, up_to: int) -> list[tuple[Hook, Mark]]:
        """Addresses for which there may be something, and that may be tried now."""
        with self._records.read() as connection:
            every = hook_rows.all_hooks(connection, ALL)
            marks = [(hook, mark_of(self._records, connection, hook.hook_no)) for hook in every]
            known = [(hook, mark) for hook, mark in marks if mark is not None]
            if not known:
                return []
            least = min(self._position(hook, mark) for hook, mark in known)
            newest = hook_rows.newest_alarm(connection, least, up_to)
        due = []
        for hook, mark in known:
            if newest <= self._position(hook, mark):
                self._seen[hook.hook_no] = up_to
            elif mark.next_ms <= now_ms:
                due.append((hook, mark))
        return due

    def _position(self, hook: Hook, mark: Mark) -> int:
        """Up to which parcel there is nothing left to tell this address."""
        return max(mark.chunk_no, 0 if mark.until else self._seen.get(hook.hook_no, 0))

    def _my_turn(self, now_ms: int) -> bool:
        with self._records.begin() as connection:
            return hook_rows.take_turn(self._records, connection, self._name, now_ms, TURN_MS)

    def _tell(self, hook: Hook, mark: Mark, up_to: int) -> bool:
        """Tell one address what there is; what failed before is sent again as it was."""
        after, until = self._position(hook, mark), mark.until or up_to
        since_ms = self._now_ms() - FORGOTTEN_MS
        with self._records.read() as connection:
            changes, last = hook_rows.changes_in(
                connection, hook, after, until, since_ms, MOST_PARCELS
            )
        if not changes and not mark.until:
            self._seen[hook.hook_no] = last
            return False
        now = msgspec.structs.replace(mark, chunk_no=last, until=0, tries=0, next_ms=0, trouble="")
        try:
            if changes:
                self._post(hook, mark, changes)
        except SinkError as error:
            now = msgspec.structs.replace(self._failed(mark, error), until=last)
            level = log.warning if mark.tries == 0 else log.debug
            level("hooks.failed", hook=hook.hook_no, reason=str(error), tries=now.tries)
        with self._records.begin() as connection:
            _keep(self._records, connection, hook.hook_no, now)
        return bool(changes) and now.tries == 0

    def _post(self, hook: Hook, mark: Mark, changes: list[Change]) -> None:
        key = f"{hook.hook_no}-{changes[0].chunk_no}-{changes[-1].chunk_no}"
        body = msgspec.json.encode(HookJson(key=key, changes=tuple(map(_told, changes))))
        seconds = str(self._now_ms() // 1000)
        headers = {
            "Content-Type": "application/json",
            "User-Agent": "lastlitre",
            "webhook-id": key,
            "webhook-timestamp": seconds,
            "webhook-signature": signature(mark.secret, key, seconds, body),
        }
        self._reach.post(hook.url, body, headers)

    def _failed(self, mark: Mark, error: SinkError) -> Mark:
        """Longer and longer waits; what a person has to mend is tried but seldom."""
        wait_ms = min(FIRST_WAIT_MS << min(mark.tries, 20), LONGEST_WAIT_MS)
        wait_ms = wait_ms if error.retryable else LONGEST_WAIT_MS
        return msgspec.structs.replace(
            mark,
            tries=mark.tries + 1,
            next_ms=self._now_ms() + wait_ms,
            trouble=str(error)[:300],
        )


def _keep(records: Records, connection: Connection, hook_no: int, mark: Mark) -> None:
    records.set_mark(connection, f"hook {hook_no}", msgspec.json.encode(mark).decode())


def _told(change: Change) -> ChangeJson:
    row, words = change.row, change.row.words
    return ChangeJson(
        site=change.site,
        name=change.name,
        line=change.line,
        alarm=words.get("alarm", ""),
        change=words.get("change", ""),
        state=words.get("state", ""),
        priority=words.get("priority", ""),
        at_ms=row.at_ms,
        numbers=row.numbers,
    )
