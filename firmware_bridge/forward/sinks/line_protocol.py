"""The sink for time-series stores that take the v2 write endpoint (line protocol over HTTP).

A success (204) means "taken", not "on disk": a store killed a moment later may lose its last
seconds (measured: VictoriaMetrics 1.79 up to ten). So every row is sent twice, the second time the
same to the letter a minute or more after the first, and only then is it done with. Sending rows
again is harmless only where the store keeps one point of a series and instant: InfluxDB does so by
itself, VictoriaMetrics with `-dedup.minScrapeInterval=1ms`.

The client library is heavy (about 40 MiB), so it is imported when a sink is opened, not before.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from email.utils import parsedate_to_datetime
from typing import Any

import msgspec

from analytics.errors import PartialWrite, SinkError
from firmware_bridge.forward.lines import check_line, line_of
from firmware_bridge.forward.sink import Heard, Parcel, Sink, SinkBusy, SiteCard, Span
from firmware_bridge.forward.twice import Twice
from firmware_bridge.secrets import Secret
from firmware_bridge.store.out_row import OutRow

_LONGEST_REST_S = 3600.0


class LineProtocolOptions(msgspec.Struct, frozen=True, kw_only=True):
    """Where the store is and how it knows us. `url` is without the path `/api/v2/write`.

    Stores without buckets and organisations ignore both; an empty token is sent to nobody.
    """

    url: str
    bucket: str = "lastlitre"
    org: str = ""
    token: Secret = Secret("")
    ca_file: str = ""
    timeout_s: float = 10.0
    again_after_s: float = 60.0
    """How long after its first success a row is sent the second time."""


class Refused(SinkError):  # noqa: N818 - it is one answer among others
    """Raised when the store finds something wrong with the lines themselves."""


class Unreachable(SinkError):  # noqa: N818
    """Raised when the store does not answer at all; it may have been killed."""


_Numbered = tuple[int, str]
"""A row's site number and its line."""


class LineProtocolSink:
    """Rows to one bucket of one store."""

    def __init__(
        self, options: LineProtocolOptions, card: SiteCard, now_ms: Callable[[], int]
    ) -> None:
        self._options = options
        self._site_id = card.site_id
        self._now_ms = now_ms
        self._twice = Twice(options.again_after_s)
        self._client, self._write = _client(options)

    def send(self, parcel: Parcel) -> None:
        """Write the rows; see `OpenSink.send`."""
        self.send_of_sites(parcel, [(self._site_id, row) for row in parcel.rows])

    def send_of_sites(self, parcel: Parcel, rows: Sequence[tuple[str, OutRow]]) -> None:
        """Write rows of several sites as the parcel; see `OpenSink.send`.

        A rejected row is known by its place among `rows` where they are of several sites.
        """
        lines, rejected = self._lines(rows)
        if lines:
            rejected |= self._deliver(lines)
        span = Span(parcel.after, parcel.up_to)
        self._twice.sent(span, parcel.again, time.monotonic())
        if rejected:
            raise PartialWrite(
                f"{self._options.url}: {len(rejected)} of {len(rows)} rows refused", rejected
            )

    def heard(self) -> Heard:
        """See `OpenSink.heard`."""
        return self._twice.heard(time.monotonic())

    def show_now(self, rows: Sequence[OutRow]) -> None:
        """A time-series store has no place for a summary out of turn."""

    def close(self) -> None:
        """Give the connections back."""
        self._client.close()

    def _lines(self, rows: Sequence[tuple[str, OutRow]]) -> tuple[list[_Numbered], dict[int, str]]:
        """The lines to send, and the rows that cannot be written with the reasons."""
        now_ms = self._now_ms()
        lines: list[_Numbered] = []
        unfit: dict[int, str] = {}
        for place, (site_id, row) in enumerate(rows):
            number = row.seq if self._site_id else place
            try:
                line = line_of(row, site_id, now_ms)
            except SinkError as exc:
                unfit[number] = str(exc)
            else:
                if line:
                    lines.append((number, line))
        return lines, unfit

    def _deliver(self, lines: list[_Numbered]) -> dict[int, str]:
        """Write all lines, or find the ones the store refuses; raises SinkError."""
        try:
            self._post(lines)
        except Refused as exc:
            self._is_it_the_rows(exc)
            return self._halves(lines, str(exc))
        return {}

    def _is_it_the_rows(self, refusal: Refused) -> None:
        """Raises SinkError where the store refuses a faultless line too: the rows must wait."""
        try:
            self._post([(0, check_line(self._site_id, self._now_ms()))])
        except Refused:
            raise SinkError(
                f"{self._options.url} refuses every line: {refusal}",
                "Check url, bucket and org of this sink, and the store's own log.",
                retryable=False,
            ) from refusal

    def _halves(self, lines: list[_Numbered], reason: str) -> dict[int, str]:
        """Send a refused batch in halves of halves; what is refused alone is refused for good."""
        if len(lines) == 1:
            return {lines[0][0]: reason}
        middle = len(lines) // 2
        rejected: dict[int, str] = {}
        for part in (lines[:middle], lines[middle:]):
            try:
                self._post(part)
            except Refused as exc:
                rejected |= self._halves(part, str(exc))
        return rejected

    def _post(self, lines: list[_Numbered]) -> None:
        """One request; raises Refused, SinkBusy, Unreachable or SinkError."""
        before = self._line()
        try:
            self._write("\n".join([line for _, line in lines]))
        except Unreachable:
            self._twice.unreachable()
            raise
        if self._line() is not before:
            self._twice.reconnected()

    def _line(self) -> object:
        """The socket to the store that is kept open; None where there is none."""
        pools = self._client.api_client.rest_client.pool_manager
        idle = pools.connection_from_url(self._options.url).pool.queue
        return getattr(idle[-1], "sock", None) if idle else None


def _client(options: LineProtocolOptions) -> tuple[Any, Callable[[str], None]]:
    """The library's client, and a function that writes one body and raises SinkErrors."""
    from influxdb_client.client.exceptions import InfluxDBError
    from influxdb_client.client.influxdb_client import InfluxDBClient
    from influxdb_client.client.write_api import SYNCHRONOUS
    from influxdb_client.domain.write_precision import WritePrecision
    from urllib3.exceptions import HTTPError

    client = InfluxDBClient(
        url=options.url,
        token=str(options.token),
        org=options.org,
        timeout=round(options.timeout_s * 1000),
        enable_gzip=True,
        ssl_ca_cert=options.ca_file or None,
    )
    api: Any = client.write_api(write_options=SYNCHRONOUS)

    def write(body: str) -> None:
        try:
            api.write(options.bucket, options.org, body, WritePrecision.MS)
        except InfluxDBError as exc:
            raise _answer(options.url, exc) from exc
        except (HTTPError, OSError, UnicodeDecodeError) as exc:
            raise Unreachable(
                f"{options.url} does not answer: {exc}",
                "Check that the store runs and that url names its host and port.",
            ) from exc

    return client, write


def _answer(url: str, exc: Any) -> SinkError:
    """What an answer other than success asks of us."""
    status = int(getattr(exc, "status", None) or 0)
    said = _said(exc)
    if status in (400, 413, 422):
        return Refused(said, retryable=False)
    if status in (429, 503) and (rest_s := _rest_s(exc)) is not None:
        return SinkBusy(f"{url} asks for a rest of {rest_s:g} s ({status})", rest_s=rest_s)
    if status >= 500 or status in (408, 425, 429):
        return SinkError(f"{url} answers {status}: {said}", "The store is in trouble: see its log.")
    return SinkError(f"{url} answers {status}: {said}", _mend(status), retryable=False)


def _mend(status: int) -> str:
    if status in (401, 403):
        return "Give this sink a token that may write to the bucket."
    if status == 404:
        return "Check url (without /api/v2/write), bucket and org: the store has no such place."
    if status == 0:
        return "Check the store's certificate and this sink's ca_file."
    if 300 <= status < 400:
        return "The store has moved: put the new address into url."
    return "See the store's log for what it did not like."


def _said(exc: Any) -> str:
    """The store's own words, on one line and not endless."""
    words = str(getattr(exc, "body", None) or getattr(exc, "reason", None) or exc)
    return " ".join(words.split())[:300]


def _rest_s(exc: Any) -> float | None:
    """Seconds to rest as the Retry-After header has it (seconds, or a date); None without one.

    A date is read against the answer's own Date header, so that our clock does not matter.
    """
    headers = getattr(exc, "headers", None) or {}
    wanted = headers.get("Retry-After")
    if wanted is None:
        return None
    try:
        rest = float(wanted) if wanted.strip().isdigit() else _seconds_between(headers, wanted)
    except (ValueError, TypeError):
        return None
    return min(max(rest, 0.0), _LONGEST_REST_S)


def _seconds_between(headers: Any, wanted: str) -> float:
    said_at = parsedate_to_datetime(headers["Date"])
    return (parsedate_to_datetime(wanted) - said_at).total_seconds()


SINK = Sink(
    name="line-protocol", options=LineProtocolOptions, open=LineProtocolSink, rows_a_send=2000
)
