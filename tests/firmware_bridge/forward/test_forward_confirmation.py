"""What a sink's far side says, and what the runner makes of it."""

from __future__ import annotations

import asyncio

import msgspec
from structlog.testing import capture_logs

from analytics.errors import SinkError
from firmware_bridge.forward.runner import Condition
from firmware_bridge.forward.sink import Span
from tests.firmware_bridge.forward.outbox import (
    BRISK,
    START_MS,
    ListOutbox,
    forwarder,
    readings,
    running,
    until,
)
from tests.firmware_bridge.forward.scripted import NoOptions, ScriptedSink, sink_of


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
        assert (task.status.backlog, task.status.repeated) == (0, 0)

    assert {seq for rows in scripted.taken for seq in rows} == set(range(1, 201))
