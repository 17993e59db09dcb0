"""The receiver's own file (SQLite): every row once, and what made no sense with the reason."""

from __future__ import annotations

import sqlite3
import threading
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

import msgspec

from firmware_bridge.forward.payloads import Batch, BatchRow, Card, Gone, Now
from firmware_bridge.receiver.spans import Pair, Spans, runs
from firmware_bridge.receiver.words import Incoming, Said, understood
from firmware_bridge.store.faults import in_our_words

MOST_ASIDE = 10_000
LONGEST_ASIDE = 65_536
"""Messages that made no sense: so many are kept, the newest ones, and so many bytes of each."""

TABLES = """
CREATE TABLE IF NOT EXISTS sites (
    site_no INTEGER PRIMARY KEY, site TEXT NOT NULL UNIQUE, card TEXT NOT NULL DEFAULT '',
    online INTEGER, held TEXT NOT NULL DEFAULT '[]');
CREATE TABLE IF NOT EXISTS rows (
    site_no INTEGER NOT NULL, seq INTEGER NOT NULL, line TEXT NOT NULL, kind TEXT NOT NULL,
    at_ms INTEGER NOT NULL, body BLOB NOT NULL, PRIMARY KEY (site_no, seq)) WITHOUT ROWID;
CREATE TABLE IF NOT EXISTS newest (
    site_no INTEGER NOT NULL, line TEXT NOT NULL, body BLOB NOT NULL,
    PRIMARY KEY (site_no, line)) WITHOUT ROWID;
CREATE TABLE IF NOT EXISTS aside (
    aside_no INTEGER PRIMARY KEY AUTOINCREMENT, at_ms INTEGER NOT NULL, topic TEXT NOT NULL,
    reason TEXT NOT NULL, payload BLOB NOT NULL);
"""

_write = msgspec.json.Encoder()
_row = msgspec.json.Decoder(BatchRow)
_pairs = msgspec.json.Decoder(list[Pair])


class Aside(msgspec.Struct, frozen=True, kw_only=True):
    """A message, or a row of one, that was kept aside."""

    topic: str
    reason: str
    payload: bytes


class KeptRow(msgspec.Struct, frozen=True, kw_only=True):
    """A row with its line and kind."""

    line: str
    kind: str
    row: BatchRow


class _Known(msgspec.Struct):
    site_no: int
    held: Spans


class Keeping:
    """The file, opened. All methods may be called from any thread, one at a time gets in."""

    def __init__(self, path: Path, prefix: str) -> None:
        """Open the file or begin it; raises StoreError where that fails."""
        self._path = path
        self._prefix = prefix
        self._turn = threading.Lock()
        self.doubled = 0
        """Rows that came once more, since the file was opened."""
        with in_our_words(path):
            self._db = sqlite3.connect(path, isolation_level=None, check_same_thread=False)
            self._db.execute("PRAGMA journal_mode = WAL")
            self._db.execute("PRAGMA synchronous = FULL")
            self._db.executescript(TABLES)
            self._sites = self._load()

    def close(self) -> None:
        """Close the file."""
        with self._turn:
            self._db.close()

    def take(self, messages: Sequence[Incoming], now_ms: int) -> set[str]:
        """Keep what the messages say, all in one step; the sites that wait for an answer.

        These are the sites rows came from, and new ones. Once this returns it is on the disk.
        Raises StoreError: nothing of it was kept then.
        """
        touched: set[str] = set()
        with self._turn, self._one_step():
            for message in messages:
                touched |= self._take(message, now_ms)
            for site in touched:
                known = self._sites[site]
                self._db.execute(
                    "UPDATE sites SET held = ? WHERE site_no = ?",
                    (_write.encode(known.held.pairs()).decode(), known.site_no),
                )
        return touched

    def sites(self) -> dict[str, int]:
        """Every site with the number up to which all is held."""
        with self._turn:
            return {site: known.held.up_to for site, known in self._sites.items()}

    def missing(self, site: str, most: int) -> list[Pair]:
        """The first gaps in the numbers of a site."""
        with self._turn:
            known = self._sites.get(site)
            return known.held.missing(most) if known else []

    def rows(self, site: str) -> list[KeptRow]:
        """All rows of a site by number."""
        with self._turn:
            found = self._db.execute(
                "SELECT line, kind, body FROM rows JOIN sites USING (site_no) WHERE site = ? "
                "ORDER BY seq",
                (site,),
            ).fetchall()
        return [KeptRow(line=line, kind=kind, row=_row.decode(body)) for line, kind, body in found]

    def numbers(self, site: str) -> list[int]:
        """The numbers of all rows of a site."""
        with self._turn:
            found = self._db.execute(
                "SELECT seq FROM rows JOIN sites USING (site_no) WHERE site = ? ORDER BY seq",
                (site,),
            ).fetchall()
        return [seq for (seq,) in found]

    def aside(self) -> list[Aside]:
        """What was kept aside, oldest first."""
        with self._turn:
            found = self._db.execute("SELECT topic, reason, payload FROM aside ORDER BY aside_no")
            return [Aside(topic=t, reason=r, payload=p) for t, r, p in found.fetchall()]

    def _load(self) -> dict[str, _Known]:
        return {
            site: _Known(site_no, Spans(_pairs.decode(held)))
            for site_no, site, held in self._db.execute("SELECT site_no, site, held FROM sites")
        }

    @contextmanager
    def _one_step(self) -> Iterator[None]:
        """A transaction; where it fails, what is known is what the file has."""
        with in_our_words(self._path):
            self._db.execute("BEGIN IMMEDIATE")
            try:
                yield
                self._db.execute("COMMIT")
            except BaseException:
                if self._db.in_transaction:
                    self._db.execute("ROLLBACK")
                self._sites = self._load()
                raise

    def _take(self, message: Incoming, now_ms: int) -> set[str]:
        try:
            said = understood(message, self._prefix)
        except ValueError as exc:
            self._put_aside(message, str(exc), now_ms)
            return set()
        if said is None:
            return set()
        new = said.site not in self._sites
        self._keep(message, said, self._known(said.site), now_ms)
        return {said.site} if new or isinstance(said, Batch | Gone) else set()

    def _known(self, site: str) -> _Known:
        if site not in self._sites:
            made = self._db.execute("INSERT INTO sites (site) VALUES (?)", (site,))
            self._sites[site] = _Known(int(made.lastrowid or 0), Spans())
        return self._sites[site]

    def _keep(self, message: Incoming, said: Said, known: _Known, now_ms: int) -> None:
        if isinstance(said, Batch):
            self._keep_rows(message, said, known, now_ms)
        elif isinstance(said, Gone):
            for first, last in said.spans:
                known.held.add(first, last)
        elif isinstance(said, Now):
            self._db.execute(
                "INSERT OR REPLACE INTO newest (site_no, line, body) VALUES (?, ?, ?)",
                (known.site_no, said.line, message.payload),
            )
        elif isinstance(said, Card):
            text = message.payload.decode()
            self._db.execute("UPDATE sites SET card = ? WHERE site_no = ?", (text, known.site_no))
        else:
            self._db.execute(
                "UPDATE sites SET online = ? WHERE site_no = ?", (said.online, known.site_no)
            )

    def _keep_rows(self, message: Incoming, batch: Batch, known: _Known, now_ms: int) -> None:
        new = [row for row in batch.rows if row.seq not in known.held]
        if len(new) < len(batch.rows):
            fresh = {row.seq for row in new}
            old = [row for row in batch.rows if row.seq not in fresh]
            new += self._not_doubled(message, old, known, now_ms)
        self._db.executemany(
            "INSERT INTO rows (site_no, seq, line, kind, at_ms, body) VALUES (?, ?, ?, ?, ?, ?)",
            [
                (known.site_no, row.seq, batch.line, batch.kind, row.at_ms, _write.encode(row))
                for row in new
            ],
        )
        for first, last in runs([row.seq for row in new]):
            known.held.add(first, last)

    def _not_doubled(
        self, message: Incoming, rows: list[BatchRow], known: _Known, now_ms: int
    ) -> list[BatchRow]:
        """Of rows whose number is held: those that were thought gone; others go aside."""
        came_late = []
        for row in rows:
            kept = self._db.execute(
                "SELECT body FROM rows WHERE site_no = ? AND seq = ?", (known.site_no, row.seq)
            ).fetchone()
            if kept is None:
                came_late.append(row)
            elif _row.decode(kept[0]) == row:
                self.doubled += 1
            else:
                part = Incoming(message.topic, _write.encode(row))
                self._put_aside(part, f"number {row.seq} is another row already", now_ms)
        return came_late

    def _put_aside(self, message: Incoming, reason: str, now_ms: int) -> None:
        self._db.execute(
            "INSERT INTO aside (at_ms, topic, reason, payload) VALUES (?, ?, ?, ?)",
            (now_ms, message.topic, reason, message.payload[:LONGEST_ASIDE]),
        )
        self._db.execute(
            "DELETE FROM aside WHERE aside_no <= (SELECT max(aside_no) FROM aside) - ?",
            (MOST_ASIDE,),
        )
