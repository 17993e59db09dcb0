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
from collections.abc import Callable
from concurrent.futures import Future
from contextlib import suppress
from importlib.metadata import version
from pathlib import Path
from typing import Any, TypeVar

from analytics.errors import StoreError
from firmware_bridge.store import redating
from firmware_bridge.store.batch import Batch, Stored
from firmware_bridge.store.cursors import StoreOutbox, settle
from firmware_bridge.store.faults import in_our_words, translated
from firmware_bridge.store.ledger import Ledger
from firmware_bridge.store.lock import WriterLock
from firmware_bridge.store.out_row import Outbox
from firmware_bridge.store.reader import Reader
from firmware_bridge.store.schema import check_ours, migrate
from firmware_bridge.store.writing import finish, write_batch

Answer = TypeVar("Answer")
Work = Callable[[sqlite3.Connection, Ledger], Any]

TOGETHER = 64
"""Pieces of work in one commit at most."""

OTHER_SITE_HINT = "Give every site a file of its own, or correct the site's id in the site file."


class _Job:
    """A piece of work for the writer, and where its answer goes."""

    def __init__(self, work: Work) -> None:
        self.work = work
        self.future: Future[Any] = Future()


class Store:
    """One site's file. Made by `open`; `submit` may be called from any thread."""

    def __init__(self, path: Path, lock: WriterLock, connection: sqlite3.Connection) -> None:
        self.path = path
        self._lock = lock
        self._connection = connection
        self._jobs: queue.SimpleQueue[_Job | None] = queue.SimpleQueue()
        self._closing = threading.Lock()
        self._closed = False
        self._readers: list[Reader] = []
        self._outbox: StoreOutbox | None = None
        self._ledger: Ledger | None = None
        self._writer = threading.Thread(target=self._write_on, name="store-writer", daemon=True)
        self._writer.start()

    @classmethod
    def open(cls, path: Path | str, *, site_id: str, most_bytes: int | None = None) -> Store:
        """Open the site's file, or begin it; bring an older one up to date.

        `most_bytes` limits the file's size. Raises StoreBusy when another process writes the file,
        StoreDamaged when it is not a readable database of this program, StoreFull when there is
        no room, StoreError for anything else that stands in the way (a file of another site).
        """
        path = Path(path)
        lock = WriterLock.take(path)
        try:
            with in_our_words(path):
                connection = _open_to_write(path, site_id, most_bytes)
        except BaseException:
            lock.release()
            raise
        return cls(path, lock, connection)

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
            lambda connection, ledger: redating.redate(
                connection, ledger, (line_id, boot_id), offset_ms, sure
            )
        )

    def reader(self) -> Reader:
        """A new reader with a connection of its own; the store's end closes it at the latest."""
        reader = Reader(self.path)
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
        with in_our_words(self.path):
            self._connection.close()
        self._lock.release()

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

    def _waiting(self) -> tuple[list[_Job], bool]:
        """All that waits, at least one piece unless the store is closing (the second answer)."""
        jobs: list[_Job] = []
        while len(jobs) < TOGETHER:
            try:
                job = self._jobs.get(block=not jobs)
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
        try:
            answers = self._do(jobs)
        except Exception as exc:  # noqa: BLE001 - whatever it was goes to the one who asked
            self._undo()
            if len(jobs) == 1:
                jobs[0].future.set_exception(self._in_our_words(exc))
            return False
        for job, answer in zip(jobs, answers, strict=True):
            job.future.set_result(answer)
        return True

    def _do(self, jobs: list[_Job]) -> list[Any]:
        self._connection.execute("BEGIN IMMEDIATE")
        if self._ledger is None:
            self._ledger = Ledger(self._connection)
        answers = [job.work(self._connection, self._ledger) for job in jobs]
        finish(self._connection, self._ledger)
        self._connection.execute("COMMIT")
        return answers

    def _undo(self) -> None:
        """Forget what the transaction changed; the ledger is read anew from the file."""
        self._ledger = None
        with suppress(
            sqlite3.Error
        ):  # a file that fails to roll back fails again at the next BEGIN
            if self._connection.in_transaction:
                self._connection.execute("ROLLBACK")

    def _in_our_words(self, exc: Exception) -> Exception:
        return translated(exc, self.path) if isinstance(exc, sqlite3.Error) else exc


def _open_to_write(path: Path, site_id: str, most_bytes: int | None) -> sqlite3.Connection:
    connection = sqlite3.connect(path, isolation_level=None, check_same_thread=False)
    try:
        check_ours(connection)
        connection.execute("PRAGMA auto_vacuum = INCREMENTAL")
        connection.execute("PRAGMA journal_mode = WAL")
        connection.execute("PRAGMA synchronous = FULL")
        connection.execute("PRAGMA cache_size = -4096")
        if most_bytes is not None:
            size = connection.execute("PRAGMA page_size").fetchone()[0]
            connection.execute(f"PRAGMA max_page_count = {max(most_bytes // size, 1)}")
        migrate(connection)
        _sign(connection, path, site_id)
    except BaseException:
        connection.close()
        raise
    return connection


def _sign(connection: sqlite3.Connection, path: Path, site_id: str) -> None:
    """Write down whose file this is, or refuse another site's."""
    connection.execute(
        "INSERT OR IGNORE INTO site (only_row, site_id, program, newest_seq) VALUES (1, ?, ?, 0)",
        (site_id, version("lastlitre")),
    )
    (owner,) = connection.execute("SELECT site_id FROM site").fetchone()
    if owner != site_id:
        raise StoreError(
            f"{path}: the file belongs to the site {owner!r}, not to {site_id!r}", OTHER_SITE_HINT
        )
    connection.execute("UPDATE site SET program = ?", (version("lastlitre"),))
