"""The task that leads a sink along the store, with sinks that fail by script."""

from __future__ import annotations

import asyncio
import random
import subprocess
import sys
import threading
from collections.abc import Callable, Sequence

import msgspec
import pytest
from structlog.testing import capture_logs

from analytics.errors import PartialWrite, SinkError
from firmware_bridge.forward.runner import Condition, Pace, wait_s
from firmware_bridge.forward.sink import Heard, Parcel, Sink, SinkBusy, SiteCard, Span
from firmware_bridge.store.out_row import OutRow
from tests.firmware_bridge.forward.outbox import (
    BRISK,
    START_MS,
    ListOutbox,
    forwarder,
    readings,
    row,
    running,
    until,
)


class NoOptions(msgspec.Struct, frozen=True):
    """Nothing to set."""


class ScriptedSink:
    """Fails as the script says, send by send; then takes everything."""

    def __init__(self, *script: Exception | None) -> None:
        self.script = list(script)
        self.taken: list[list[int]] = []
        self.tried: list[list[int]] = []
        self.shown: list[list[int]] = []
        self.closed = 0
        self.done = 0
        self.parcels: list[tuple[int, int, bool]] = []
        self.again: tuple[Span, ...] = ()
        self.durable: Callable[[int], int | None] = lambda done: done or None

    def send(self, parcel: Parcel) -> None:
        """Take the rows, or fail."""
        numbers = [row.seq for row in parcel.rows]
        self.tried.append(numbers)
        fault = self.script.pop(0) if self.script else None
        if fault is not None and not isinstance(fault, PartialWrite):
            raise fault
        self.taken.append(numbers)
        self.parcels.append((parcel.after, parcel.up_to, parcel.again))
        self.again = () if parcel.again else self.again
        self.done = max(self.done, parcel.up_to)
        if fault is not None:
            raise fault

    def heard(self) -> Heard:
        """What is safe, by the script's rule, and what is wanted again."""
        return Heard(
            durable_up_to=self.durable(self.done), again=self.again[0] if self.again else None
        )

    def show_now(self, rows: Sequence[OutRow]) -> None:
        """Note what is shown."""
        self.shown.append([row.seq for row in rows])

    def close(self) -> None:
        """Count the farewells."""
        self.closed += 1


def sink_of(
    scripted: ScriptedSink, rows_a_send: int = 10, shows_now: bool = False, window_rows: int = 0
) -> Sink:
    """The registry entry of a scripted sink."""

    def open_it(options: NoOptions, card: SiteCard, now_ms: Callable[[], int]) -> ScriptedSink:
        return scripted

    return Sink(
        name="scripted", options=NoOptions, open=open_it, rows_a_send=rows_a_send,
        shows_now=shows_now, window_rows=window_rows, keeps_line=True,
    )  # fmt: skip


async def test_failed_batch_is_sent_again_before_anything_newer() -> None:
    """A batch that failed is tried again as it was, until it is taken; then the next follows."""
    scripted = ScriptedSink(SinkError("gone"), SinkError("gone"), None)
    outbox = ListOutbox(readings(1, 25))
    async with running(forwarder(sink_of(scripted), NoOptions(), outbox)) as task:
        await until("the backlog to go", lambda: outbox.cursor("scripted") == 25)
        status = task.status

    first, second, third = list(range(1, 11)), list(range(11, 21)), list(range(21, 26))
    assert scripted.tried == [first, first, first, second, third]
    assert (status.sent, status.accepted, status.retries, status.backlog) == (45, 25, 2, 0)
    assert status.cursor == 25
    assert scripted.closed == 1
    assert task.status.condition is Condition.STOPPED


async def test_trouble_is_told_once_loudly() -> None:
    """The first failure is a warning with its mend, the next are quiet, the end is told."""
    fault = SinkError("store gone", "Start it.")
    with capture_logs() as logs:
        outbox = ListOutbox(readings(1, 5))
        scripted = ScriptedSink(fault, fault, fault)
        async with running(forwarder(sink_of(scripted), NoOptions(), outbox)):
            await until("the rows to go", lambda: outbox.cursor("scripted") == 5)

    told = [(entry["log_level"], entry["event"]) for entry in logs]
    assert told == [
        ("warning", "sink.away"),
        ("debug", "sink.away"),
        ("debug", "sink.away"),
        ("info", "sink.back"),
    ]
    assert logs[0]["hint"] == "Start it."


async def test_trouble_with_a_repeat_is_trouble_until_something_goes() -> None:
    """A turn in which there was nothing new to send does not pass for a recovery."""
    fault = SinkError("store gone", "Start it.")
    scripted = ScriptedSink(None, fault, fault, fault)
    scripted.durable = lambda done: None
    scripted.again = (Span(0, 5),)
    silent = msgspec.structs.replace(sink_of(scripted), keeps_line=False)
    with capture_logs() as logs:
        async with running(forwarder(silent, NoOptions(), ListOutbox(readings(1, 5)))) as task:
            await until("the repeat", lambda: task.status.repeated == 5)
            await until("the new rows", lambda: task.status.accepted == 5)

    told = [entry["event"] for entry in logs if entry["log_level"] != "debug"]
    assert told == ["sink.away", "sink.back"]
    assert task.status.retries == 3


async def test_status_says_what_to_mend() -> None:
    """While a person has to mend something, the status says what, and the rows wait."""
    scripted = ScriptedSink(*[SinkError("no token", "Give one.", retryable=False)] * 2)
    outbox = ListOutbox(readings(1, 5))
    async with running(forwarder(sink_of(scripted), NoOptions(), outbox)) as task:
        await until("the refusal", lambda: task.status.condition is Condition.REFUSED)
        assert (task.status.trouble, task.status.hint) == ("no token", "Give one.")
        assert task.status.backlog == 5
        await until("the mend", lambda: outbox.cursor("scripted") == 5)
        await until("the status", lambda: task.status.condition is Condition.FLOWING)
        assert (task.status.trouble, task.status.hint) == ("", "")


async def test_refused_rows_are_set_aside_and_counted() -> None:
    """Rows the sink will never take go aside with the reasons in the step that moves the cursor."""
    scripted = ScriptedSink(PartialWrite("2 refused", {3: "odd", 7: "odder"}))
    outbox = ListOutbox(readings(1, 10))
    async with running(forwarder(sink_of(scripted), NoOptions(), outbox)) as task:
        await until("the rows to go", lambda: outbox.cursor("scripted") == 10)

    assert outbox.aside == {3: "odd", 7: "odder"}
    assert (task.status.accepted, task.status.rejected, task.status.retries) == (8, 2, 0)
    assert len(scripted.tried) == 1


async def test_fault_of_the_program_does_not_end_the_task() -> None:
    """An unforeseen fault is logged with its trace, and the sink is tried again."""
    with capture_logs() as logs:
        scripted = ScriptedSink(ZeroDivisionError("oops"))
        outbox = ListOutbox(readings(1, 5))
        async with running(forwarder(sink_of(scripted), NoOptions(), outbox)) as task:
            await until("the rows to go", lambda: outbox.cursor("scripted") == 5)

    assert logs[0]["event"] == "sink.broken"
    assert task.status.retries == 1


async def test_cursor_waits_for_what_is_durable() -> None:
    """Where the far side is slow to make rows safe, sending goes on and the cursor stays behind."""
    scripted = ScriptedSink()
    scripted.durable = lambda done: done // 2
    outbox = ListOutbox(readings(1, 40))
    async with running(forwarder(sink_of(scripted), NoOptions(), outbox)) as task:
        await until("all to be sent", lambda: len(scripted.taken) == 4)
        await until("the cursor", lambda: outbox.cursor("scripted") == 20)
        assert task.status.backlog == 20

    assert [seq for batch in scripted.taken for seq in batch] == list(range(1, 41))


async def test_word_beyond_what_was_sent_moves_the_cursor_to_what_was_sent() -> None:
    """A far side that claims more than it was sent does not make rows done that never left."""
    scripted = ScriptedSink(None, SinkError("gone"))
    scripted.durable = lambda done: 20 if done else None
    outbox = ListOutbox(readings(1, 20))
    async with running(forwarder(sink_of(scripted), NoOptions(), outbox)) as task:
        await until("the failed send", lambda: task.status.retries == 1)
        assert outbox.cursor("scripted") in (0, 10)
        await until("the rest", lambda: outbox.cursor("scripted") == 20)

    assert scripted.taken == [list(range(1, 11)), list(range(11, 21))]


async def test_far_side_that_knows_more_than_the_file_stops_the_sending() -> None:
    """Where another file wrote under this site's name, rows wait until a person has mended it."""
    scripted = ScriptedSink()
    scripted.durable = lambda done: 5000
    outbox = ListOutbox(readings(1, 20))
    entry = sink_of(scripted, shows_now=True)
    async with running(forwarder(entry, NoOptions(), outbox)) as task:
        await until("the refusal", lambda: task.status.condition is Condition.REFUSED)
        assert "rows up to number 5000" in task.status.trouble
        assert "backup" in task.status.hint
        assert (outbox.cursor("scripted"), scripted.taken) == (0, [])
        assert scripted.shown
        scripted.durable = lambda done: done
        await until("the mend", lambda: outbox.cursor("scripted") == 20)


async def test_word_below_the_cursor_sends_again_from_there() -> None:
    """A far side that went back to an older state gets everything above it again, in order."""
    scripted = ScriptedSink()
    outbox = ListOutbox(readings(1, 30))
    with capture_logs() as logs:
        async with running(forwarder(sink_of(scripted), NoOptions(), outbox)) as task:
            await until("all to be confirmed", lambda: outbox.cursor("scripted") == 30)
            scripted.done = 12
            await until("the way back", lambda: task.status.repeated == 18)
            await until("the cursor", lambda: outbox.cursor("scripted") == 30)
            assert (task.status.accepted, task.status.backlog) == (30, 0)

    assert scripted.taken[3:] == [list(range(13, 23)), list(range(23, 31))]
    assert [(e["was"], e["now"]) for e in logs if e["event"] == "sink.went_back"] == [(30, 12)]


async def test_silence_moves_no_cursor() -> None:
    """Rows a far side took, of which it never says that they are safe, stay in the backlog."""
    scripted = ScriptedSink()
    scripted.durable = lambda done: None
    outbox = ListOutbox(readings(1, 20))
    hasty = msgspec.structs.replace(BRISK, unconfirmed_s=0.1)
    async with running(forwarder(sink_of(scripted), NoOptions(), outbox, hasty)) as task:
        await until("the notice", lambda: task.status.condition is Condition.UNCONFIRMED)
        assert (task.status.accepted, task.status.under_way, task.status.backlog) == (20, 20, 20)
        assert task.status.waits_since_ms == START_MS + 1000
        assert "nobody says" in task.status.trouble
        scripted.durable = lambda done: done
        await until("the recovery", lambda: task.status.condition is Condition.FLOWING)
        assert (task.status.backlog, task.status.waits_since_ms) == (0, None)

    assert outbox.cursor("scripted") == 20


async def test_rows_wanted_again_take_turns_with_new_ones() -> None:
    """A span asked for is sent again whole and marked, between the rows that come next."""
    scripted = ScriptedSink()
    scripted.durable = lambda done: None
    scripted.again = (Span(4, 9),)
    outbox = ListOutbox(readings(1, 60))
    async with running(forwarder(sink_of(scripted), NoOptions(), outbox)) as task:
        await until("all", lambda: task.status.accepted == 60)

    assert (4, 9, True) in scripted.parcels
    assert [again for *_, again in scripted.parcels].count(True) == 1
    assert (task.status.repeated, task.status.under_way) == (5, 60)


async def test_span_whose_rows_are_gone_is_told_without_rows() -> None:
    """Rows that aged out since they were sent cannot come again: the far side is told so."""
    scripted = ScriptedSink()
    scripted.again = (Span(100, 120),)
    async with running(forwarder(sink_of(scripted), NoOptions(), ListOutbox(readings(1, 5)))):
        await until("the answer", lambda: (100, 120, True) in scripted.parcels)

    assert [] in scripted.taken


async def test_no_more_than_a_window_is_on_its_way() -> None:
    """Once the far side speaks, sending waits for it, so that nothing piles up in between."""
    scripted = ScriptedSink()
    scripted.durable = lambda done: min(done, 5)
    outbox = ListOutbox(readings(1, 200))
    entry = sink_of(scripted, window_rows=50)
    async with running(forwarder(entry, NoOptions(), outbox)) as task:
        await until("the window to be full", lambda: task.status.under_way >= 50)
        await asyncio.sleep(0.2)
        assert task.status.under_way <= 60
        assert task.status.backlog >= 190
        scripted.durable = lambda done: done
        await until("the rest", lambda: outbox.cursor("scripted") == 200)


async def test_backlog_waits_for_somebody_who_keeps_it() -> None:
    """Where nobody has spoken only the newest rows go out; the first word brings all of them."""
    scripted = ScriptedSink()
    scripted.durable = lambda done: None
    outbox = ListOutbox(readings(1, 200))
    entry = sink_of(scripted, window_rows=50)
    async with running(forwarder(entry, NoOptions(), outbox)) as task:
        await until("the newest", lambda: scripted.done == 200)
        assert scripted.parcels[0][:2] == (150, 160)
        assert (task.status.backlog, task.status.under_way) == (200, 50)
        scripted.done = 0
        scripted.durable = lambda done: done
        await until("the rest", lambda: outbox.cursor("scripted") == 200)
        assert task.status.backlog == 0

    assert {seq for rows in scripted.taken for seq in rows} == set(range(1, 201))


async def test_asked_rest_is_kept() -> None:
    """A far side that asks for an hour's rest is left alone, and a stop need not wait for it."""
    scripted = ScriptedSink(SinkBusy("not now", rest_s=3600.0))
    outbox = ListOutbox(readings(1, 5))
    with capture_logs() as logs:
        async with running(forwarder(sink_of(scripted), NoOptions(), outbox)) as task:
            await until("the refusal", lambda: task.status.condition is Condition.AWAY)

    assert logs[0]["wait_s"] == 3600.0
    assert len(scripted.tried) == 1
    assert outbox.cursor("scripted") == 0


async def test_stop_delivers_what_is_there() -> None:
    """Rows that linger for company are sent at the stop, all batches of them."""
    scripted = ScriptedSink()
    patient = msgspec.structs.replace(BRISK, linger_s=3600.0)
    outbox = ListOutbox(readings(1, 5))
    async with running(forwarder(sink_of(scripted), NoOptions(), outbox, patient)) as task:
        await until("the rows to be seen", lambda: task.status.backlog == 5)
        assert scripted.tried == []
        outbox.add(readings(6, 7))

    assert scripted.taken == [[1, 2, 3, 4, 5, 6, 7]]
    assert outbox.cursor("scripted") == 7


async def test_alarm_does_not_linger() -> None:
    """An alarm among rows that wait for company takes them along at once."""
    scripted = ScriptedSink()
    patient = msgspec.structs.replace(BRISK, linger_s=3600.0)
    outbox = ListOutbox(readings(1, 3))
    async with running(forwarder(sink_of(scripted), NoOptions(), outbox, patient)) as task:
        await until("the rows to be seen", lambda: task.status.backlog == 3)
        outbox.add([row(4, "alarm", {"alarm": "leak", "change": "raised"})])
        await until("the alarm", lambda: outbox.cursor("scripted") == 4)

    assert scripted.taken == [[1, 2, 3, 4]]


async def test_newest_is_shown_before_the_backlog() -> None:
    """The newest rows are shown before the first of a backlog is sent."""
    scripted = ScriptedSink()
    taken_when_shown: list[int] = []
    show = scripted.show_now
    scripted.show_now = lambda rows: (  # type: ignore[method-assign]
        taken_when_shown.append(len(scripted.taken)),
        show(rows),
    )[1]
    outbox = ListOutbox(readings(1, 5000))
    entry = sink_of(scripted, rows_a_send=100, shows_now=True)
    async with running(forwarder(entry, NoOptions(), outbox)):
        await until("the backlog to go", lambda: outbox.cursor("scripted") == 5000)

    assert taken_when_shown[0] == 0
    assert scripted.shown[0] == list(range(3001, 5001))


async def test_summary_sees_every_new_row_once() -> None:
    """Rows that were sent between two summaries are in the later one, each row in one of them."""
    scripted = ScriptedSink()
    outbox = ListOutbox(readings(1, 50))
    entry = sink_of(scripted, shows_now=True)
    async with running(forwarder(entry, NoOptions(), outbox)):
        for last in range(100, 501, 50):
            outbox.add(readings(last - 49, last))
            await until("the rows", lambda n=last: outbox.cursor("scripted") == n)
        await until("a summary", lambda: scripted.shown[-1][-1] == 500)
        shown_when_done = len(scripted.shown)
        outbox.add(readings(501, 501))
        await until("the next summary", lambda: scripted.shown[-1][-1] == 501)

    assert [seq for rows in scripted.shown for seq in rows] == list(range(1, 502))
    assert len(scripted.shown) == shown_when_done + 1


async def test_stop_does_not_wait_for_a_hung_sink() -> None:
    """A sink that never returns is left behind at the stop's deadline; its rows stay unsettled."""
    scripted = ScriptedSink()
    released = threading.Event()
    in_send = threading.Event()

    def hang(parcel: Parcel) -> None:
        in_send.set()
        released.wait(60)

    scripted.send = hang  # type: ignore[method-assign]
    outbox = ListOutbox(readings(1, 5))
    hasty = msgspec.structs.replace(BRISK, stop_s=0.2)
    async with running(forwarder(sink_of(scripted), NoOptions(), outbox, hasty)) as task:
        await until("the send", in_send.is_set)

    assert not released.is_set()
    assert outbox.cursor("scripted") == 0
    assert scripted.closed == 1
    assert task.status.condition is Condition.STOPPED
    released.set()


async def test_cancelled_task_ends_at_once() -> None:
    """A cancelled forwarder ends without a farewell and leaves no task behind."""
    scripted = ScriptedSink()
    task = asyncio.create_task(
        forwarder(sink_of(scripted), NoOptions(), ListOutbox()).run(asyncio.Event())
    )
    await asyncio.sleep(0.05)
    task.cancel()
    with pytest.raises(asyncio.CancelledError):
        await task

    assert asyncio.all_tasks() == {asyncio.current_task()}


def test_waits_double_up_to_the_cap_and_are_jittered() -> None:
    """Waits double to the cap, no two sinks in step: each lies in the upper half of its step."""
    pace = Pace(first_wait_s=1.0, longest_wait_s=60.0)
    rng = random.Random(7)
    for tries in range(1, 2000):
        step = min(60.0, 2.0 ** (tries - 1)) if tries < 20 else 60.0
        assert step / 2 <= wait_s(tries, pace, rng) <= step
    assert len({wait_s(9, pace, rng) for _ in range(100)}) == 100


def test_heavy_client_library_is_not_loaded_unless_used() -> None:
    """Runner, MQTT sink and even the line-protocol file load without the store's client library."""
    program = (
        "import sys; from firmware_bridge.forward import runner, lines, payloads; "
        "from firmware_bridge.forward.sinks import mqtt, line_protocol; "
        "sys.exit(', '.join(m for m in sys.modules "
        "if m.split('.')[0] in ('influxdb_client', 'reactivex', 'pandas', 'pint')) or 0)"
    )
    done = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=False
    )
    assert (done.returncode, done.stderr) == (0, "")
