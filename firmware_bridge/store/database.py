"""The site's file, opened: one thread that writes, and readers that never wait for it.

    submit(batch) -> queue -> writer thread: BEGIN IMMEDIATE, all that waits, COMMIT (synced)
                                             -> every future of that commit is answered

The writer holds the only connection that may write. A batch that fails is undone alone: the others
of its commit are tried again one by one.
"""

from __future__ import annotations

import queue
import sqlite3
import threading
import time
from collections.abc import Callable
from concurrent.futures import Future
from contextlib import suppress
from functools import partial
from pathlib import Path
from typing import Any, TypeVar

from analytics.errors import StoreDamaged, StoreError, StoreFull
from firmware_bridge.store import hosts, redating, thinning
from firmware_bridge.store.batch import Batch, Stored
from firmware_bridge.store.cursors import StoreOutbox, settle
from firmware_bridge.store.faults import FULL_HINT, for_want_of_room, in_our_words, translated
from firmware_bridge.store.hosts import Host
from firmware_bridge.store.keeping import Keeping, StoreHealth
from firmware_bridge.store.ledger import Ledger
from firmware_bridge.store.lock import WriterLock
from firmware_bridge.store.numbers import Promised
from firmware_bridge.store.opening import FOLDER_HINT, open_to_write
from firmware_bridge.store.out_row import Outbox
from firmware_bridge.store.reader import Reader
from firmware_bridge.store.room import Room
from firmware_bridge.store.writing import finish, write_batch

Answer = TypeVar("Answer")
Work = Callable[[sqlite3.Connection, Ledger], Any]

TOGETHER = 64
"""Pieces of work in one commit at most."""
TIDY_EVERY_S = 20.0
ROUNDS_FOR_ROOM = 40
"""So often something old is given up for one commit before it is refused."""


class _Job:
    """A piece of work for the writer, and where its answer goes."""

    def __init__(self, work: Work) -> None:
        self.work = work
        self.future: Future[Any] = Future()


class Store:
    """One site's file. Made by `open`; `submit` may be called from any thread.

    `health` says how the file stands, as of the last few seconds. `damage` is the first sign that
    it is not whole any more: close it then, and see `rescue`.
    """

    def __init__(
        self,
        lock: WriterLock,
        connection: sqlite3.Connection,
        room: Room,
        promised: Promised,
    ) -> None:
        self.path = room.path
        self._lock = lock
        self._connection = connection
        self._room = room
        self._promised = promised
        (self.box,) = connection.execute("SELECT box FROM site").fetchone()
        """The random id of this record."""
        self._tidy_at = 0.0
        self._more_to_tidy = False
        self.damage: StoreDamaged | None = None
        self.health: StoreHealth = room.health(connection)
        self._jobs: queue.SimpleQueue[_Job | None] = queue.SimpleQueue()
        self._closing = threading.Lock()
        self._closed = False
        self._readers: list[Reader] = []
        self._outbox: StoreOutbox | None = None
        self._ledger: Ledger | None = None
        self._host: tuple[int, int] | None = None
        self._writer = threading.Thread(target=self._write_on, name="store-writer", daemon=True)
        self._writer.start()

    @classmethod
    def open(cls, path: Path | str, *, site_id: str, keeping: Keeping | None = None) -> Store:
        """Open the site's file, or begin it; bring an older one up to date.

        `keeping` says how much is kept; without it, all is. Raises StoreBusy when another process
        writes the file, StoreDamaged when it is not a readable database of this program, StoreFull
        when there is no room, StoreFailing when the disk does not work, StoreError for anything
        else that stands in the way (a folder that is not there, a file of another site).
        """
        path = Path(path)
        lock = WriterLock.take(path)
        try:
            return cls._opened(lock, path, site_id, keeping)
        except BaseException:
            lock.release()
            raise

    @classmethod
    def _opened(cls, lock: WriterLock, path: Path, site_id: str, keeping: Keeping | None) -> Store:
        room, promised = Room(path, keeping), _promised(path)
        try:
            try:
                with in_our_words(path):
                    connection = open_to_write(path, site_id, room, promised)
            except StoreFull:
                if not room.drop_ballast():
                    raise
                with in_our_words(path):
                    connection = open_to_write(path, site_id, room, promised)
            return cls(lock, connection, room, promised)
        except BaseException:
            promised.close()
            raise

    def submit(self, batch: Batch) -> Future[Stored]:
        """Hand in a batch; the future is answered when it is durable.

        It raises StoreFull when there is no room (nothing of the batch is kept: hand it in again),
        StoreError or StoreDamaged when the file fails, ValueError for a batch that is not sound.
        """
        return self._ask(lambda connection, ledger: write_batch(connection, ledger, batch))

    def redate(
        self, line_id: str, boot_id: int, offset_ms: int, *, sure: bool = True
    ) -> Future[int]:
        """Date the rows of a boot that were stored with an unsure clock: uptime + `offset_ms`.

        With `sure` they are no longer flagged; without, the date is the best there will be. Either
        way sinks get them from now on. The future gives how many rows were dated.
        """
        return self._ask(
            lambda connection, ledger: (
                redating.redate(connection, ledger, (line_id, boot_id), offset_ms, sure).rows
            )
        )

    def begin_host(self, host: str, since_start_ms: int, least_ms: int) -> Host:
        """This start of the machine; rows of an unsure clock are its rows from now on."""
        work = partial(hosts.begin, host=host, since_start_ms=since_start_ms, least_ms=least_ms)
        found = self._ask(lambda connection, ledger: work(connection, ledger)).result()
        self._host = (found.host_no, found.base_ms)
        return found

    def undated_ms(self) -> Future[int]:
        """For how long rows have been stored without a date, all starts together."""
        return self._ask(lambda connection, _: hosts.waited_ms(connection))

    def time_known(self, host_no: int, wall_offset_ms: int) -> Future[dict[str, int]]:
        """The clock is believed: date what waits; the earliest instant that changed, by line."""
        return self._ask(
            lambda connection, ledger: hosts.time_known(connection, ledger, host_no, wall_offset_ms)
        )

    def guess_time(self) -> Future[dict[str, int]]:
        """Nobody knows the time and enough was waited: what waits keeps the place it has."""
        return self._ask(hosts.guess)

    def reader(self) -> Reader:
        """A new reader with a connection of its own; the store's end closes it at the latest."""
        reader = Reader(self.path, self._is_damaged)
        self._readers = [*(held for held in self._readers if not held.closed), reader]
        return reader

    @property
    def outbox(self) -> Outbox:
        """The way in for sinks."""
        with self._closing:
            if self._outbox is None:
                self._outbox = StoreOutbox(self.reader(), self._settle)
            return self._outbox

    def close(self) -> None:
        """Write what was handed in, close the file and all readers, and let the next daemon in."""
        with self._closing:
            if self._closed:
                return
            self._closed = True
            self._jobs.put(None)
        self._writer.join()
        for reader in self._readers:
            reader.close()
        with suppress(sqlite3.Error, OSError):  # then the next opening looks the file over
            self._leave_sound()
        with suppress(sqlite3.Error):  # a damaged file cannot be closed with care
            self._connection.close()
        self._promised.close()
        self._lock.release()

    def _leave_sound(self) -> None:
        """Promise no more than was used: the file was closed with care."""
        if self.damage is None:
            (newest,) = self._connection.execute("SELECT newest_seq FROM site").fetchone()
            self._connection.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchall()
            self._promised.settle(int(newest))

    def __enter__(self) -> Store:
        return self

    def __exit__(self, *exc: object) -> None:
        self.close()

    def _settle(self, sink: str, up_to_seq: int, rejected: dict[int, tuple[str, str]]) -> None:
        self._ask(lambda connection, _: settle(connection, sink, up_to_seq, rejected)).result()

    def _ask(self, work: Callable[[sqlite3.Connection, Ledger], Answer]) -> Future[Answer]:
        job = _Job(work)
        with self._closing:
            if self._closed:
                raise StoreError(f"{self.path}: the store is closed", "Open it again first.")
            self._jobs.put(job)
        return job.future

    def _write_on(self) -> None:
        ending = False
        while not ending:
            jobs, ending = self._waiting()
            if jobs and not self._commit(jobs) and len(jobs) > 1:
                for job in jobs:
                    self._commit([job])
            self._tidy()

    def _waiting(self) -> tuple[list[_Job], bool]:
        """All that waits, at least one piece unless there is tidying to do or the store is closing
        (the second answer)."""
        jobs: list[_Job] = []
        while len(jobs) < TOGETHER:
            try:
                job = self._jobs.get(block=not (jobs or self._more_to_tidy))
            except queue.Empty:
                break
            if job is None:
                return jobs, True
            if job.future.set_running_or_notify_cancel():
                jobs.append(job)
        return jobs, False

    def _commit(self, jobs: list[_Job]) -> bool:
        """Do these pieces and answer them once they are durable; False: undone, one failed.

        A piece that fails alone gets its error for an answer.
        """
        for _ in range(ROUNDS_FOR_ROOM):
            try:
                answers = self._do(jobs)
            except Exception as exc:  # noqa: BLE001 - whatever it was goes to the one who asked
                self._undo()
                if for_want_of_room(exc, self._room.disk_free()) and self._make_room():
                    continue
                if len(jobs) == 1:
                    jobs[0].future.set_exception(self._in_our_words(exc))
                return False
            for job, answer in zip(jobs, answers, strict=True):
                job.future.set_result(answer)
            return True
        for job in jobs:
            job.future.set_exception(StoreFull(f"{self.path}: no room left to write", FULL_HINT))
        return True

    def _do(self, jobs: list[_Job]) -> list[Any]:
        self._connection.execute("BEGIN IMMEDIATE")
        if self._ledger is None:
            self._ledger = Ledger(self._connection, self._host)
        answers = [job.work(self._connection, self._ledger) for job in jobs]
        finish(self._connection, self._ledger)
        self._promised.reach(self._ledger.newest_seq)
        self._connection.execute("COMMIT")
        return answers

    # --- room ---------------------------------------------------------------------------------

    def _make_room(self) -> bool:
        """The disk or the limit is full: give up ballast and the oldest; whether there was any."""
        keeping = self._room.keeping
        if keeping is None:
            return False
        self._room.full = True
        dropped = self._room.drop_ballast()
        self._room.use_all(self._connection)
        try:
            with suppress(sqlite3.Error):  # pages that are in the database free the log for others
                self._connection.execute("PRAGMA wal_checkpoint(RESTART)").fetchall()
            gave = self._do([_Job(lambda c, ledger: thinning.by_need(c, ledger, keeping))])[0]
        except (sqlite3.Error, OSError):
            self._undo()
            gave = False
        finally:
            self._room.hold_back(self._connection)
            self._note_health()
        return dropped or bool(gave)

    def _tidy(self) -> None:
        """Now and then: let old readings give way, put the ballast back, see how the file stands.

        What fails here fails the next batch too, and is told there.
        """
        keeping = self._room.keeping
        if keeping is None or (time.monotonic() < self._tidy_at and not self._more_to_tidy):
            return
        self._tidy_at = time.monotonic() + TIDY_EVERY_S
        try:
            more = self._do([_Job(lambda c, ledger: thinning.by_age(c, ledger, keeping))])[0]
            if self._room.crowded(self._connection):
                more |= self._do([_Job(lambda c, ledger: thinning.by_need(c, ledger, keeping))])[0]
                if self._room.overgrown(self._connection):
                    self._connection.execute("PRAGMA incremental_vacuum(2000)").fetchall()
            if self._room.put_ballast():
                self._room.full = self._room.full and self._room.crowded(self._connection)
            self._more_to_tidy = bool(more)
            self._note_health()
        except (sqlite3.Error, StoreError, OSError):
            self._more_to_tidy = False
            self._undo()

    def _note_health(self) -> None:
        with suppress(sqlite3.Error):  # a figure to show: the last one stands
            self.health = self._room.health(self._connection)

    def _undo(self) -> None:
        """Forget what the transaction changed; the ledger is read anew from the file."""
        self._ledger = None
        with suppress(
            sqlite3.Error
        ):  # a file that fails to roll back fails again at the next BEGIN
            if self._connection.in_transaction:
                self._connection.execute("ROLLBACK")

    def _in_our_words(self, exc: Exception) -> Exception:
        if for_want_of_room(exc, self._room.disk_free()):
            return StoreFull(f"{self.path}: no room left to write ({exc})", FULL_HINT)
        found = translated(exc, self.path) if isinstance(exc, sqlite3.Error) else exc
        if isinstance(found, StoreDamaged):
            self._is_damaged(found)
        return found

    def _is_damaged(self, fault: StoreDamaged) -> None:
        self.damage = self.damage or fault


def _promised(path: Path) -> Promised:
    try:
        return Promised(path)
    except OSError as exc:
        raise StoreError(f"{path}: {exc.strerror}", FOLDER_HINT) from exc
