"""The node on a virtual board: one turn after the other, resets, power cuts, the watchdog."""

from __future__ import annotations

from typing import Any

import pytest

from firmware_bridge.firmware import frames
from firmware_bridge.firmware.parts import Line
from firmware_bridge.firmware.station import Station, Uptime
from firmware_bridge.virtual.board import WATCHDOG_US, Bitten, VirtualBoard


def live(station: Station, board: VirtualBoard, seconds: float) -> list[Any]:
    """What the node says in so many seconds."""
    stop_us = board.moments.us + round(seconds * 1e6)
    while board.moments.us < stop_us:
        station.turn()
    said, board.line.said = board.line.said, b""
    return frames.Parser().feed(said)


def of_kind(said: list[Any], kind: int) -> list[Any]:
    """Frames of one kind."""
    return [frame for frame in said if frame.kind == kind]


def test_a_start_says_hello_a_row_and_the_self_test() -> None:
    """In its first seconds a sound node says who it is, what it reads and that it is well."""
    board = VirtualBoard()
    said = live(Station(board), board, 3.0)

    (hello,) = of_kind(said, frames.HELLO)
    (test,) = of_kind(said, frames.SELFTEST)
    rows = of_kind(said, frames.DATA)
    assert hello.text == "virtual board"
    assert (test.tested, test.failed, test.text) == (15, 0, "")
    assert rows[-1].outlet_ec == pytest.approx(1e8 / 1500, rel=5e-3)
    assert rows[-1].inlet_temp == 20_000


def test_the_self_test_at_the_start_names_what_is_broken() -> None:
    """A probe and a thermometer that are not there are named before anybody asks."""
    board = VirtualBoard()
    board.front.stuck[0] = 20_000
    board.wires[1].fault = "absent"

    (test,) = of_kind(live(Station(board), board, 5.0), frames.SELFTEST)

    assert test.failed == 3
    assert "outlet probe" in test.text
    assert "inlet thermometer" in test.text


def test_pulses_of_both_turbines_are_in_the_rows() -> None:
    """Each turbine has its own count."""
    board = VirtualBoard()
    station = Station(board)
    live(station, board, 2.0)
    board.flow(0, 500)
    board.flow(1, 70)

    row = of_kind(live(station, board, 15.0), frames.DATA)[-1]

    assert (row.pulses_1, row.pulses_2) == (500, 70)


def test_a_reset_costs_no_pulse_and_a_power_cut_none_that_was_told() -> None:
    """Pulses seen by a look outlive a reset; what a row has told outlives a power cut."""
    board = VirtualBoard()
    station = Station(board)
    live(station, board, 2.0)
    board.flow(0, 500)
    told = of_kind(live(station, board, 12.0), frames.DATA)[-1].pulses_1
    board.flow(0, 33)
    live(station, board, 1.5)
    memory = board.memory
    after_reset = VirtualBoard(memory)
    first = of_kind(live(Station(after_reset), after_reset, 2.0), frames.DATA)[-1]
    memory.last_note = None
    after_cut = VirtualBoard(memory)
    second = of_kind(live(Station(after_cut), after_cut, 2.0), frames.DATA)[-1]

    assert (told, first.pulses_1) == (500, 533)
    assert second.pulses_1 == 533


def test_the_memory_is_spared() -> None:
    """Running water is saved with its rows, not with every look: flash wears out."""
    board = VirtualBoard()
    board.idle_us = 50_000
    station = Station(board)
    live(station, board, 2.0)
    before = board.memory.saves
    for _ in range(600):
        board.flow(0, 20)
        live(station, board, 0.94)

    assert 50 < board.memory.saves - before < 75


def test_a_part_that_hangs_is_ended_by_the_watchdog() -> None:
    """The watchdog is told once a turn and by nothing else: a part that hangs starts it anew."""

    class Hanging(Line):
        def read(self) -> bytes:
            board.moments.on(WATCHDOG_US + 1)
            return b""

    board = VirtualBoard()
    station = Station(board)
    live(station, board, 30.0)
    board.line = Hanging()  # type: ignore[assignment]

    with pytest.raises(Bitten):
        station.turn()


def test_a_start_by_the_watchdog_is_told() -> None:
    """Every row of such a start says so."""
    board = VirtualBoard()
    board.by_watchdog = True

    row = of_kind(live(Station(board), board, 2.0), frames.DATA)[-1]

    assert row.status >> 24 & frames.NODE_WATCHDOG


@pytest.mark.parametrize("ticks", [0x3FFFFFFF - 1500, 5])
def test_the_clock_of_the_board_may_wrap(ticks: int) -> None:
    """Uptime goes on over the wrap of the board's clock."""
    board = VirtualBoard(ticks=ticks)
    board.idle_us = 20_000
    station = Station(board)
    uptimes = []
    for _ in range(5):
        board.flow(0, 20)
        rows = of_kind(live(station, board, 12.0), frames.DATA)
        uptimes.append(max((row.seq, row.uptime_ms) for row in rows)[1])

    assert uptimes == sorted(uptimes)
    assert 40_000 < uptimes[-1] < 70_000
    assert Uptime(7, 0xFF).at(3) == 252


def test_set_up_over_the_line_reaches_the_front_end() -> None:
    """Range, pace and number of probes are set by the host and answered."""
    board = VirtualBoard()
    station = Station(board)
    wanted = (("ec-range", "3"), ("sample-ms", "200"), ("probes", "1"), ("drive-us", "100"))
    for key, value in wanted:
        board.line.to_node += frames.Setup(frames.SETUP, 0, 0, key, value).wire()

    said = live(station, board, 3.0)

    answers = of_kind(said, frames.SETUP_ANSWER)
    assert [(a.key, a.value, a.result) for a in answers] == [(k, v, 0) for k, v in wanted]
    assert (station.cells.fixed_range, station.cells.half_us) == (3, 100)
    row = of_kind(said, frames.DATA)[-1]
    assert frames.channel_status(row.status, frames.INLET_EC) == frames.NO_READING
    assert frames.channel_status(row.status, frames.OUTLET_EC) == frames.GOOD


def test_a_flood_of_questions_is_not_all_answered() -> None:
    """What waits to be said is bounded, whatever the host asks."""
    board = VirtualBoard()
    station = Station(board)
    station.node.receive(frames.Ask(frames.HELLO_ASK).wire() * 500, 0)

    assert len(of_kind(frames.Parser().feed(station.node.serve(0)), frames.HELLO)) <= 16
