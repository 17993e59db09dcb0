"""The node: rows when they are due, nothing lost over a reset, unconfirmed rows sent again."""

from __future__ import annotations

from typing import Any

import pytest

from firmware_bridge.firmware import frames, node, parts

MINUTE = 60_000


def found(data: bytes, kind: int = frames.DATA) -> list[Any]:
    """Frames of one kind in what a node wrote."""
    return [frame for frame in frames.Parser().feed(data) if frame.kind == kind]


def run(one: node.Node, start_ms: int, stop_ms: int, every_ms: int = 1000) -> list[Any]:
    """The rows a node writes when stepped from start to stop."""
    return found(b"".join(one.step(ms) for ms in range(start_ms, stop_ms, every_ms)))


def confirm(one: node.Node, at_ms: int) -> None:
    """The host confirms all there is."""
    one.receive(frames.Confirm(1, one.boot, one.newest()).wire(), at_ms)


def test_a_quiet_node_sends_a_row_at_each_heartbeat(bench: Any) -> None:
    """Without water and without change there is one row a minute, numbered from 1."""
    one = bench.start()

    first = run(one, 0, 1000)
    confirm(one, 1000)
    later = run(one, 1000, MINUTE + 1000)

    assert [(row.seq, row.uptime_ms) for row in first + later] == [(1, 0), (2, MINUTE)]


def test_running_water_is_reported_every_ten_seconds(bench: Any) -> None:
    """The first pulses are reported at once, then every ten seconds, then the heartbeat."""
    one = bench.start()
    run(one, 0, 1000)
    confirm(one, 0)
    out = b""
    for ms in range(1000, 50_000, 1000):
        if 15_000 <= ms < 40_000:
            bench.flow(30)
        out += one.step(ms)
        confirm(one, ms)

    rows = found(out)
    assert [row.uptime_ms for row in rows] == [15_000, 25_000, 35_000, 45_000]
    assert rows[-1].pulses_1 == 25 * 30


def test_a_changed_status_is_reported_within_a_second(bench: Any) -> None:
    """A probe that stops reading is told at once, coded as no reading."""
    one = bench.start()
    run(one, 0, 1000)
    confirm(one, 0)
    bench.values[parts.INLET] = (None, frames.GOOD)

    (row,) = run(one, 5000, 6000)

    assert frames.channel_status(row.status, frames.INLET_EC) == frames.NO_READING
    assert frames.channel_status(row.status, frames.OUTLET_EC) == frames.GOOD
    assert row.inlet_ec == 0


@pytest.mark.parametrize("wild", [-5, 10**30, -(10**30), None])
def test_wild_values_do_not_stop_the_node(bench: Any, wild: float) -> None:
    """A part that returns nonsense gives a row that can be sent."""
    bench.values[parts.OUTLET] = (wild, frames.GOOD)

    assert len(run(bench.start(), 0, 1000)) == 1


def test_counters_survive_a_reset(bench: Any) -> None:
    """A node that starts anew counts on from where it was, under another boot id."""
    one = bench.start(chance=1)
    bench.flow(1234)
    before = run(one, 0, 1000)[-1]

    two = bench.start(chance=1)
    bench.flow(6)
    after = run(two, 0, 1000)[-1]

    assert (before.pulses_1, after.pulses_1) == (1234, 1240)
    assert before.boot != after.boot
    assert before.status >> 24 == frames.NODE_COUNTS_NEW
    assert after.status >> 24 == 0


def test_a_damaged_memory_is_told(bench: Any) -> None:
    """When what was kept does not match its CRC, counters begin at 0 and the row says so."""
    bench.flow(99)
    run(bench.start(), 0, 1000)
    bench.saved = bench.saved[:-1] + bytes((bench.saved[-1] ^ 1,))

    row = run(bench.start(), 0, 1000)[-1]

    assert row.status >> 24 == frames.NODE_COUNTS_NEW
    assert row.pulses_1 == 0


def test_counters_wrap_at_32_bits(bench: Any) -> None:
    """The count goes on past 2^32 from 0."""
    one = bench.start()
    bench.flow(2**32 - 10)
    run(one, 0, 1000)
    bench.flow(30)

    rows = run(one, 10_000, 11_000)

    assert rows[0].seq == 2
    assert rows[0].pulses_1 == 20


def test_unconfirmed_rows_are_sent_again_oldest_first(bench: Any) -> None:
    """Rows the host did not confirm come again in order; confirmed ones do not."""
    one = bench.start()
    one.receive(frames.Ask(frames.HELLO_ASK).wire(), 0)
    run(one, 0, 4 * MINUTE, MINUTE)
    one.receive(frames.Confirm(1, one.boot, 2).wire(), 4 * MINUTE - 1000)
    one.receive(frames.Ask(frames.HELLO_ASK).wire(), 4 * MINUTE - 900)

    again = found(b"".join(one.serve(4 * MINUTE + ms) for ms in range(0, 10_000, 100)))

    assert [row.seq for row in again[:2]] == [3, 4]
    assert {row.seq for row in again} == {3, 4}
    confirm(one, 4 * MINUTE + 10_000)
    assert one.serve(5 * MINUTE) == b""


def test_new_rows_do_not_wait_for_old_ones(bench: Any) -> None:
    """While a long backlog is sent again, each new row goes out in the step that made it."""
    one = bench.start(ring_rows=64)
    run(one, 0, 50 * MINUTE, MINUTE)
    one.receive(frames.RowRange(frames.RESEND, 1, one.boot, 1, 50).wire(), 50 * MINUTE)

    out = found(one.step(50 * MINUTE))

    assert out[0].seq == 51
    assert [row.seq for row in out[1:]] == list(range(1, 17))


def test_a_full_ring_says_what_is_gone(bench: Any) -> None:
    """Rows that were overwritten are told as gone when asked for, and the status says so."""
    one = bench.start(ring_rows=8)
    rows = run(one, 0, 20 * MINUTE, MINUTE)
    one.receive(frames.RowRange(frames.RESEND, 1, one.boot, 1, 20).wire(), 20 * MINUTE)
    out = one.serve(20 * MINUTE)

    (gone,) = found(out, frames.GONE)
    assert (gone.first, gone.last) == (1, 12)
    assert [row.seq for row in found(out)][:8] == list(range(13, 21))
    assert max(rows, key=lambda row: row.seq).status >> 24 & frames.NODE_ROWS_LOST


def test_the_newest_wish_counts(bench: Any) -> None:
    """A host that starts anew is not kept waiting by what an earlier one had asked for."""
    one = bench.start()
    run(one, 0, 60 * MINUTE, MINUTE)
    one.receive(frames.RowRange(frames.RESEND, 1, one.boot, 1, 60).wire(), 60 * MINUTE)
    one.receive(frames.RowRange(frames.RESEND, 1, one.boot, 40, 42).wire(), 60 * MINUTE)

    out = found(one.serve(60 * MINUTE))

    assert [row.seq for row in out[:3]] == [40, 41, 42]


def test_rows_of_another_boot_are_gone(bench: Any) -> None:
    """A wish for a boot that is over is answered, so that the host stops waiting."""
    one = bench.start()
    one.receive(frames.RowRange(frames.RESEND, 1, one.boot + 1, 5, 9).wire(), 0)

    (gone,) = found(one.serve(0), frames.GONE)

    assert (gone.boot, gone.first, gone.last) == (one.boot + 1, 5, 9)


@pytest.mark.parametrize(
    ("key", "value", "result", "shown"),
    [
        ("draw-ms", "2000", frames.SETUP_DONE, "2000"),
        ("draw-ms", "", frames.SETUP_DONE, "10000"),
        ("draw-ms", "0", frames.SETUP_BAD_VALUE, "10000"),
        ("draw-ms", "-3", frames.SETUP_BAD_VALUE, "10000"),
        ("draw-ms", "fast", frames.SETUP_BAD_VALUE, "10000"),
        ("colour", "1", frames.SETUP_NO_SUCH_KEY, ""),
    ],
)
def test_set_up_over_the_line(bench: Any, key: str, value: str, result: int, shown: str) -> None:
    """A setting is changed or refused, and the answer shows the value in force."""
    one = bench.start()
    one.receive(frames.Setup(frames.SETUP, 1, 0, key, value).wire(), 0)

    (answer,) = found(one.serve(0), frames.SETUP_ANSWER)

    assert (answer.result, answer.key, answer.value) == (result, key, shown)


def test_settings_survive_a_reset(bench: Any) -> None:
    """What was set is in force after the next start."""
    bench.start().receive(frames.Setup(frames.SETUP, 1, 0, "heartbeat-ms", "5000").wire(), 0)

    assert bench.start().setting("heartbeat-ms") == 5000


def test_a_host_that_starts_gets_a_row_at_once(bench: Any) -> None:
    """A quiet node answers the host's question with a fresh row, not only at its heartbeat."""
    one = bench.start()
    run(one, 0, 1000)
    confirm(one, 0)
    one.receive(frames.Ask(frames.HELLO_ASK).wire(), 20_000)

    rows = run(one, 20_000, 22_000)

    assert [(row.seq, row.uptime_ms) for row in rows] == [(2, 20_000)]


def test_a_node_hears_only_its_own_number(bench: Any) -> None:
    """A frame for another node on the line changes nothing."""
    one = bench.start()
    one.receive(frames.Setup(frames.SETUP, 9, 0, "heartbeat-ms", "5000").wire(), 0)

    assert one.setting("heartbeat-ms") == MINUTE


def test_the_self_test_names_the_fault(bench: Any) -> None:
    """A part that says it is broken is named, and every row says that the test failed."""
    one = bench.start()
    bench.fault = "no excitation"
    one.receive(frames.Ask(frames.SELFTEST_ASK).wire(), 0)

    out = one.serve(0)
    row = run(one, 1000, 2000)[0]

    (test,) = found(out, frames.SELFTEST)
    assert (test.tested, test.failed) == (15, 7)
    assert "no excitation" in test.text
    assert row.status >> 24 & frames.NODE_SELFTEST


def test_garbage_does_not_disturb_a_node(bench: Any) -> None:
    """Noise on the line between frames costs the node nothing."""
    one = bench.start()
    one.receive(bytes(range(256)) * 20 + frames.Ask(frames.HELLO_ASK).wire(), 0)

    (_, hello) = found(one.serve(0), frames.HELLO)

    assert hello.boot == one.boot
