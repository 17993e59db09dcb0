"""The task that leads a sink along the store, with sinks that fail by script."""

from __future__ import annotations

import asyncio
import random
import subprocess
import sys
import threading

import msgspec
import pytest
from structlog.testing import capture_logs

from analytics.errors import PartialWrite, SinkError
from firmware_bridge.forward.runner import Condition, Pace, wait_s
from firmware_bridge.forward.sink import Parcel, SinkBusy, Span
from tests.firmware_bridge.forward.outbox import (
    BRISK,
    ListOutbox,
    forwarder,
    readings,
    row,
    running,
    until,
)
from tests.firmware_bridge.forward.scripted import NoOptions, ScriptedSink, sink_of


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
