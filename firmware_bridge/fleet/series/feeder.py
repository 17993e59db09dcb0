"""Carries every row from the records to a time-series store: behind ingest, never in its way.

The records are the queue: the feeder follows the chunks by number with a cursor that stands in the
records too. A store's "taken" is no promise, so every row is sent twice, a minute apart, by the
same rules as a site's own sink (`forward/twice.py`), and the cursor moves after the second. What
the store refuses for good is counted and passed over: it is still in the records.

One feeder works at a time, whoever comes first; the others wait for its lock. Chunks that were
thinned before they were carried go as they are then.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterable
from typing import Self

import msgspec
import structlog
from sqlalchemy import func, select

from analytics.errors import LastLitreError, PartialWrite, SinkError, StoreError
from firmware_bridge.backoff import Backoff
from firmware_bridge.fleet.records.bodies import unpacked
from firmware_bridge.fleet.records.engine import Records
from firmware_bridge.fleet.records.tables import chunks, sites
from firmware_bridge.fleet.records.thinning import SERIES_MARK
from firmware_bridge.forward.sink import Parcel, SiteCard, Span
from firmware_bridge.forward.sinks.line_protocol import LineProtocolOptions, LineProtocolSink
from firmware_bridge.store.out_row import OutRow

log = structlog.get_logger(__name__)

CHUNKS_AT_ONCE = 200
"""Chunks read in one turn."""
ROWS_A_SEND = 5000


class SeriesStatus(msgspec.Struct):
    """How far the store is: the last chunk sent twice, the last sent once, rows sent and refused.

    `waits` says why nothing goes on, where nothing does.
    """

    done: int = 0
    sent: int = 0
    rows: int = 0
    refused: int = 0
    waits: str = ""


class FeederPace(msgspec.Struct, frozen=True, kw_only=True):
    """How often, in seconds."""

    look_s: float = 1.0
    longest_wait_s: float = 60.0


class Feeder:
    """Use it as `with Feeder(...)`; `status` may be read at any time."""

    def __init__(
        self,
        records: Records,
        options: LineProtocolOptions,
        *,
        pace: FeederPace = FeederPace(),  # noqa: B008 - it is frozen
        now_ms: Callable[[], int],
    ) -> None:
        self.status = SeriesStatus()
        self._records = records
        self._pace = pace
        self._options = options
        self._now_ms = now_ms
        self._stopping = threading.Event()
        self._thread = threading.Thread(target=self._run, name="series", daemon=True)

    def __enter__(self) -> Self:
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._stopping.set()
        self._thread.join()

    def _run(self) -> None:
        backoff = Backoff(0.5, self._pace.longest_wait_s)
        while not self._stopping.is_set():
            try:
                with self._records.sole("series") as alone:
                    if alone:
                        self._feed(backoff)
                self._stopping.wait(self._pace.look_s)
                continue
            except (SinkError, StoreError) as exc:
                self._told(exc, backoff)
            except Exception as exc:  # a fault here must not stop the carrying for good
                log.exception("series.broken")
                self._told(LastLitreError(str(exc)), backoff)
            self._stopping.wait(backoff.failed())

    def _told(self, exc: LastLitreError, backoff: Backoff) -> None:
        self.status.waits = str(exc)
        if not backoff.tries:
            log.warning("series.waits", why=str(exc), hint=exc.hint)

    def _feed(self, backoff: Backoff) -> None:
        """Send what is new and what is due a second time, until told to stop. Raises SinkError."""
        carrier = Carrier(self._records, self._options, self._now_ms, self.status)
        try:
            while not self._stopping.is_set():
                busy = carrier.turn()
                backoff.worked()
                self.status.waits = ""
                if not busy:
                    self._stopping.wait(self._pace.look_s)
        finally:
            carrier.close()


class Carrier:
    """One sink at work for all sites; numbers of chunks stand where a site's sink has its rows'."""

    def __init__(
        self,
        records: Records,
        options: LineProtocolOptions,
        now_ms: Callable[[], int],
        status: SeriesStatus,
    ) -> None:
        self._records = records
        self._sink = LineProtocolSink(options, SiteCard(site_id=""), now_ms)
        self._status = status
        with records.read() as connection:
            status.done = status.sent = int(records.mark(connection, SERIES_MARK) or 0)

    def close(self) -> None:
        """Give the connections back."""
        self._sink.close()

    def turn(self) -> bool:
        """Send the next chunks, or those due again; whether there was anything."""
        heard = self._sink.heard()
        if heard.durable_up_to is not None and heard.durable_up_to > self._status.done:
            self._settle(heard.durable_up_to)
        if heard.again is not None:
            self._send(heard.again, again=True)
            return True
        self._records.settle_chunks()
        newest = self._newest()
        if newest <= self._status.sent:
            return False
        self._send(Span(self._status.sent, newest), again=False)
        return True

    def _settle(self, up_to: int) -> None:
        with self._records.begin() as connection:
            self._records.set_mark(connection, SERIES_MARK, str(up_to))
        self._status.done = up_to

    def _newest(self) -> int:
        """The last of the next chunks; all up to it are there, or never will be."""
        of_next = (
            select(chunks.c.chunk_no)
            .where(chunks.c.chunk_no > self._status.sent)
            .order_by(chunks.c.chunk_no)
            .limit(CHUNKS_AT_ONCE)
            .subquery()
        )
        with self._records.read() as connection:
            return int(connection.scalar(select(func.max(of_next.c.chunk_no))) or 0)

    def _send(self, span: Span, again: bool) -> None:
        """Send a span of chunks; its beginning, where it has very many rows."""
        up_to, rows = self._rows(span)
        parcel = Parcel(after=span.after, up_to=up_to, rows=(), again=again)
        try:
            self._sink.send_of_sites(parcel, rows)
        except PartialWrite as exc:
            self._status.refused += len(exc.rejected)
        self._status.rows += len(rows)
        if not again:
            self._status.sent = up_to

    def _rows(self, span: Span) -> tuple[int, list[tuple[str, OutRow]]]:
        """The rows of the first chunks of a span, with their sites, and the last chunk's number."""
        asked = (
            select(chunks.c.chunk_no, chunks.c.line, chunks.c.kind, chunks.c.body, sites.c.site)
            .join(sites)
            .where(chunks.c.chunk_no > span.after, chunks.c.chunk_no <= span.up_to)
            .order_by(chunks.c.chunk_no)
        )
        rows: list[tuple[str, OutRow]] = []
        with self._records.read() as connection:
            for chunk in connection.execute(asked):
                if len(rows) >= ROWS_A_SEND:
                    return chunk.chunk_no - 1, rows
                rows += [(chunk.site, row) for row in _out(chunk.line, chunk.kind, chunk.body)]
        return span.up_to, rows


def _out(line: str, kind: str, body: bytes) -> Iterable[OutRow]:
    """Rows of a chunk as every sink sees them."""
    for row in unpacked(body):
        yield OutRow(
            seq=row.seq,
            at_ms=row.at_ms,
            kind=kind,
            line_id=line,
            cartridge_id=row.cartridge,
            revision=row.revision,
            numbers=row.numbers,
            words=row.words,
        )
