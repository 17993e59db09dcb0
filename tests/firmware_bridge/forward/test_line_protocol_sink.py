"""The line-protocol sink against a real store, alone and behind a front that refuses."""

from __future__ import annotations

import asyncio
import socket
from pathlib import Path

import msgspec
import pytest

from analytics.errors import PartialWrite, SinkError
from firmware_bridge.forward.runner import Condition
from firmware_bridge.forward.sink import Heard, OpenSink, SinkBusy
from firmware_bridge.forward.sinks.line_protocol import SINK, LineProtocolOptions
from firmware_bridge.secrets import Secret
from firmware_bridge.store.out_row import OutRow
from tests import peers
from tests.firmware_bridge.forward.outbox import (
    CARD,
    START_MS,
    ListOutbox,
    forwarder,
    now_ms,
    parcel,
    reading,
    readings,
    row,
    running,
    until,
)

pytestmark = pytest.mark.peer

Sample = tuple[str, tuple[str, ...], int, float]


def options(url: str, **more: object) -> LineProtocolOptions:
    """Options for a store of the tests."""
    return LineProtocolOptions(**{"url": url, "timeout_s": 5.0, "again_after_s": 0.1} | more)  # type: ignore[arg-type]


def opened(url: str, **more: object) -> OpenSink:
    """A sink at work."""
    return SINK.open(options(url, **more), CARD, now_ms)


def samples_of(rows: list[OutRow]) -> set[Sample]:
    """What a store must hold of these rows."""
    return {
        (f"{r.kind}_{name}", (f"line={r.line_id}", "site=harbour-steps"), r.at_ms, value)
        for r in rows
        for name, value in r.numbers.items()
    }


async def test_every_row_is_in_the_store_once(store: peers.TimeSeriesStore) -> None:
    """Every number of every row is read back, at its instant, under its line, and nothing else."""
    rows = readings(1, 3000) + readings(3001, 4500, "mill, left=1")
    rows += [row(4501, "draw", litres=0.25), row(4502, "estimate", remaining_l_p50=812.5)]
    outbox = ListOutbox(rows)
    async with running(forwarder(SINK, options(store.url), outbox)) as task:
        await until("the backlog to go", lambda: outbox.cursor("line-protocol") == len(rows))
    expected = samples_of(rows)

    await until("all to be there", lambda: len(store.samples()) >= len(expected))
    assert store.samples() == expected
    assert (task.status.accepted, task.status.rejected) == (4502, 0)


async def test_rows_sent_again_are_not_seen_twice(store: peers.TimeSeriesStore) -> None:
    """A sink whose cursor was lost sends everything again, and the store shows it once."""
    rows = readings(1, 500)
    for _ in range(3):
        outbox = ListOutbox(rows)
        async with running(forwarder(SINK, options(store.url), outbox)):
            await until("the rows to go", lambda box=outbox: box.cursor("line-protocol") == 500)

    await until("all to be there", lambda: len(store.samples()) >= 1000)
    assert store.samples() == samples_of(rows)


async def test_store_away_for_a_while_gets_all(store: peers.TimeSeriesStore) -> None:
    """Rows stored while the server is away are sent when it is back."""
    outbox = ListOutbox(readings(1, 100))
    async with running(forwarder(SINK, options(store.url), outbox)) as task:
        await until("the first rows", lambda: outbox.cursor("line-protocol") == 100)
        await asyncio.to_thread(store.stop)
        outbox.add(readings(101, 5000))
        await until("the loss to be seen", lambda: task.status.retries >= 2)
        assert task.status.condition is Condition.AWAY
        assert "does not answer" in task.status.trouble
        await asyncio.to_thread(store.start)
        await until("the backlog to go", lambda: outbox.cursor("line-protocol") == 5000)
        assert task.status.condition is Condition.FLOWING

    await until("all to be there", lambda: len(store.samples()) >= 10_000)
    assert store.samples() == samples_of(readings(1, 5000))


async def test_new_process_goes_on_from_the_cursor(
    store: peers.TimeSeriesStore, tmp_path: Path
) -> None:
    """A forwarder started on a kept cursor sends what is new and nothing again."""
    path = tmp_path / "cursors.json"
    first = ListOutbox(readings(1, 200), path)
    async with running(forwarder(SINK, options(store.url), first)):
        await until("the first rows", lambda: first.cursor("line-protocol") == 200)
    second = ListOutbox(readings(1, 260), path)
    async with running(forwarder(SINK, options(store.url), second)) as task:
        await until("the rest", lambda: second.cursor("line-protocol") == 260)

    assert task.status.accepted == 60
    assert task.status.repeated >= 60
    await until("all to be there", lambda: len(store.samples()) >= 520)
    assert store.samples() == samples_of(readings(1, 260))


async def test_poisoned_rows_are_kept_aside(store: peers.TimeSeriesStore) -> None:
    """Rows the server refuses are found and set aside with its words; all others arrive."""
    rows = readings(1, 1500)
    poisoned = {7, 8, 900, 1500}
    for seq in poisoned:
        rows[seq - 1] = reading(seq, poison_us_cm=1.0)
    outbox = ListOutbox(rows)
    with peers.front(store.url) as front:
        front.judge = lambda lines: (
            (400, {}, "field type conflict\nat poison") if "poison" in "".join(lines) else None
        )
        async with running(forwarder(SINK, options(front.url), outbox)) as task:
            await until("the rows to go", lambda: outbox.cursor("line-protocol") == 1500)

    assert outbox.aside == dict.fromkeys(poisoned, "field type conflict at poison")
    assert (task.status.accepted, task.status.rejected) == (1496, 4)
    expected = samples_of([r for r in rows if r.seq not in poisoned])
    of_lines = '{line!=""}'  # the faultless line of the search is there too, and of no line
    await until("the rest to be there", lambda: len(store.samples(of_lines)) >= len(expected))
    assert store.samples(of_lines) == expected


def test_rows_a_store_would_drop_in_silence_are_refused(store: peers.TimeSeriesStore) -> None:
    """What the server would answer with success and throw away is set aside with the reason."""
    rows = [
        reading(1),
        reading(2, outlet_us_cm=float("nan")),
        reading(3, outlet_us_cm=float("inf")),
        msgspec.structs.replace(reading(4), at_ms=now_ms() + 3 * 86_400_000),
        msgspec.structs.replace(reading(5), at_ms=12_000),
        reading(6, _private=1.0),
        msgspec.structs.replace(reading(7), line_id="two\nlines"),
        row(8, "gossip", litres=1.0),
        reading(9),
    ]
    sink = opened(store.url)
    with pytest.raises(PartialWrite) as found:
        sink.send(parcel(rows))
    sink.close()

    assert found.value.rejected == {
        2: "outlet_us_cm is nan, which is not a number",
        3: "outlet_us_cm is inf, which is not a number",
        4: "its time is more than a day ahead of this clock",
        5: "its time is before the year 2000: the clock was not set",
        6: "'_private' cannot be the name of a number",
        7: "'two\\nlines' has a sign that cannot be written",
        8: "'gossip' is a kind with no measurement",
    }
    peers.eventually("the good rows", lambda: len(store.samples()) == 4)
    assert store.samples() == samples_of([rows[0], rows[8]])


def test_words_stay_at_home_but_alarms_are_counted(store: peers.TimeSeriesStore) -> None:
    """An event has no place in the store; an alarm's change is a 1 under its name."""
    sink = opened(store.url)
    sink.send(
        parcel(
            [
                row(1, "event", {"what": "drop-test"}),
                row(2, "alarm", {"alarm": "leak", "change": "raised", "text": "Water runs."}),
            ]
        )
    )
    sink.close()

    peers.eventually("the alarm", store.samples)
    labels = ("alarm=leak", "change=raised", "line=bar", "site=harbour-steps")
    assert store.samples() == {("alarm_changes", labels, START_MS + 2000, 1.0)}


def test_bodies_are_compressed_and_carry_the_token() -> None:
    """A request is gzip in milliseconds for bucket and organisation, with the token."""
    with peers.front() as front:
        sink = opened(front.url + "/", org="northgate", bucket="water", token=Secret("t0p"))
        sink.send(parcel(readings(1, 100)))
        sink.close()
        headers = front.headers[0]

    assert len(front.lines) == 100
    assert front.lines[0] == (
        "reading,site=harbour-steps,line=bar outlet_us_cm=401.0,outlet_temp_c=19.125 1767225601000"
    )
    assert headers["content-encoding"] == "gzip"
    assert headers["authorization"] == "Token t0p"
    assert "t0p" not in repr(options(front.url, token=Secret("t0p")))


@pytest.mark.parametrize(
    ("status", "headers", "kind", "retryable", "says"),
    [
        (401, {}, SinkError, False, "token"),
        (403, {}, SinkError, False, "token"),
        (404, {}, SinkError, False, "no such place"),
        (302, {"Location": "http://127.0.0.1:9/"}, SinkError, False, "new address"),
        (429, {"Retry-After": "17"}, SinkBusy, True, ""),
        (429, {}, SinkError, True, "trouble"),
        (500, {}, SinkError, True, "trouble"),
        (503, {"Retry-After": "nonsense"}, SinkError, True, "trouble"),
    ],
)
def test_answers_are_told_apart(
    status: int, headers: dict[str, str], kind: type[SinkError], retryable: bool, says: str
) -> None:
    """Each answer says whether to try again by itself, and what to mend; no row is set aside."""
    with peers.front() as front:
        front.judge = lambda _: (status, headers, "as it is")
        sink = opened(front.url)
        with pytest.raises(SinkError) as found:
            sink.send(parcel(readings(1, 5)))
        assert sink.heard() == Heard()
        sink.close()

    assert type(found.value) is kind
    assert found.value.retryable is retryable
    assert says in found.value.hint
    assert front.url in str(found.value)


@pytest.mark.parametrize(
    ("wanted", "rest_s"),
    [("17", 17.0), ("Thu, 01 Jan 2026 00:02:00 GMT", 120.0), ("99999999", 3600.0)],
)
def test_rest_is_taken_as_asked(wanted: str, rest_s: float) -> None:
    """Retry-After is understood as seconds and as a date against the server's own clock."""
    dated = {"Retry-After": wanted, "Date": "Thu, 01 Jan 2026 00:00:00 GMT"}
    with peers.front() as front:
        front.judge = lambda _: (503, dated, "")
        sink = opened(front.url)
        with pytest.raises(SinkBusy) as found:
            sink.send(parcel(readings(1, 1)))
        sink.close()

    assert found.value.rest_s == rest_s


def test_store_that_refuses_everything_costs_no_row() -> None:
    """Where even a faultless line is refused the rows are not to blame: they wait."""
    with peers.front() as front:
        front.judge = lambda _: (400, {}, "bucket is required")
        sink = opened(front.url)
        with pytest.raises(SinkError, match="refuses every line: bucket is required") as found:
            sink.send(parcel(readings(1, 1000)))
        sink.close()

    assert not isinstance(found.value, PartialWrite)
    assert not found.value.retryable
    assert front.seen == 2


def test_body_too_large_is_halved() -> None:
    """A request that is too large for the server is sent in smaller ones, and no row is lost."""
    with peers.front() as front:
        front.judge = lambda lines: (413, {}, "too large") if len(lines) > 300 else None
        sink = opened(front.url)
        sink.send(parcel(readings(1, 1000)))
        sink.close()

    stamps = sorted(int(line.rsplit(" ", 1)[1]) for line in front.lines if "sink_check" not in line)
    assert stamps == [START_MS + seq * 1000 for seq in range(1, 1001)]


def test_server_lost_while_halving_settles_nothing() -> None:
    """Trouble in the middle of the search for bad rows leaves the whole batch to be sent again."""
    with peers.front() as front:
        answers = iter([(400, {}, "bad"), None, None, (500, {}, "gone")])
        front.judge = lambda _: next(answers)
        sink = opened(front.url)
        with pytest.raises(SinkError, match="answers 500"):
            sink.send(parcel(readings(1, 8)))
        assert sink.heard() == Heard()
        sink.close()


def test_server_that_never_answers_is_given_up() -> None:
    """A server that takes the request and is silent is given up after the time-out."""
    with socket.create_server(("127.0.0.1", 0)) as deaf:
        sink = opened(f"http://127.0.0.1:{deaf.getsockname()[1]}", timeout_s=0.3)
        with pytest.raises(SinkError, match="does not answer") as found:
            sink.send(parcel(readings(1, 1)))
        sink.close()

    assert found.value.retryable
