"""From a node to rows over a bad line: every pulse once, every row once, true instants."""

from __future__ import annotations

import random
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analytics.samples import NO_COUNT, Flag, Rows, join_rows, no_rows
from firmware_bridge.firmware import frames
from firmware_bridge.readings.dating import Moment
from firmware_bridge.readings.lot import Lot
from firmware_bridge.readings.node_driver import NodeDriver

START = 1_750_000_000_000
BOOT = 0x00010001


def row(seq: int, count: int, **other: Any) -> frames.Data:
    """Row `seq` of boot BOOT, one a second."""
    fields: dict[str, Any] = {
        "node": 1,
        "boot": BOOT,
        "seq": seq,
        "uptime_ms": 1000 * seq,
        "status": 0,
        "outlet_ec": 65_050,
        "outlet_temp": 21_000,
        "inlet_ec": 84_650,
        "inlet_temp": 20_000,
        "pulses_1": count,
        "pulses_2": 0,
    }
    return frames.Data(**fields | other)


def hello(newest: int = 0, oldest: int = 1, uptime_ms: int = 0, boot: int = BOOT) -> frames.Hello:
    """The node says who it is."""
    return frames.Hello(1, boot, uptime_ms, oldest, newest, 0, "node")


def at(ms: int, *, sane: bool = True) -> Moment:
    """The host's time, `ms` after START; the wire has the same pace."""
    return Moment(now_ms=START + ms, sane=sane, wire_ms=ms)


def fed(driver: NodeDriver, *sent: frames.Frame, ms: int = 0) -> Rows:
    """The rows after these frames came in together."""
    driver.feed(b"".join(frame.wire() for frame in sent), at(ms))
    return rows_in(driver.take())


def rows_in(lot: Lot | None) -> Rows:
    """All rows of a lot."""
    found = no_rows()
    for taken in lot.taken if lot else ():
        found = join_rows(found, taken.rows)
    return found


def wishes(driver: NodeDriver, ms: int) -> list[Any]:
    """The RESENDs the driver sends at this time."""
    return [f for f in frames.Parser().feed(driver.answer(ms)) if f.kind == frames.RESEND]


def test_values_and_pulses_of_rows() -> None:
    """Figures come in base units; pulses are counted from row to row, the first being the base."""
    rows = fed(NodeDriver("bar"), hello(), row(1, 500), row(2, 530, inlet_temp=-1500), ms=2000)

    assert rows.outlet_us_cm.tolist() == pytest.approx([650.5, 650.5])
    assert rows.inlet_temp_c.tolist() == pytest.approx([20.0, -1.5])
    assert rows.pulses.tolist() == [0, 30]
    assert rows.flags.tolist() == [0, 0]


def test_the_probes_cell_constants_are_applied() -> None:
    """A probe with cell constant 0.1 per cm reads ten times too high without it."""
    rows = fed(NodeDriver("bar", outlet_cell=0.1), hello(), row(1, 0))

    assert rows.outlet_us_cm[0] == pytest.approx(65.05)
    assert rows.inlet_us_cm[0] == pytest.approx(846.5)


def test_doubled_rows_are_dropped_and_order_is_restored() -> None:
    """Rows that come twice or in another order come out once and in order."""
    driver = NodeDriver("bar")

    rows = fed(
        driver, hello(), row(1, 0), row(3, 20), row(3, 20), row(2, 10), row(1, 0), row(4, 30)
    )

    assert rows.pulses.tolist() == [0, 10, 10, 10]
    assert driver.counts["rows_doubled"] == 2


def test_a_missing_row_is_waited_for_and_asked_for() -> None:
    """Rows behind a gap wait; the gap is asked for at once and then once a second."""
    driver = NodeDriver("bar")

    before = fed(driver, hello(), row(1, 0), row(4, 30), ms=4000)
    asked = [wishes(driver, ms) for ms in range(4000, 6000, 100)]
    after = fed(driver, row(2, 10), row(3, 20), ms=6000)

    assert len(before) == 1
    assert [(w[0].first, w[0].last) for w in asked if w] == [(2, 3), (2, 3)]
    assert after.pulses.tolist() == [10, 10, 10]
    assert np.diff(after.at_ms).tolist() == [1000, 1000]


def test_rows_that_are_gone_are_not_waited_for() -> None:
    """When the node no longer holds a row, the next ones go on and no litre is lost."""
    driver = NodeDriver("bar")
    fed(driver, hello(), row(1, 0), row(4, 30))

    lot = None
    driver.feed(frames.RowRange(frames.GONE, 1, BOOT, 2, 3).wire(), at(100))
    lot = driver.take()

    assert lot is not None
    assert rows_in(lot).pulses.tolist() == [30]
    assert (lot.taken[0].frames_from, lot.taken[0].frame_seq.tolist()) == (4, [4])
    assert lot.counters["rows_lost"] == 2


def test_a_gap_nobody_answers_is_given_up_at_last() -> None:
    """A living node that never answers does not hold the rows back for ever."""
    driver = NodeDriver("bar")
    rows = fed(driver, hello(), row(1, 0), row(3, 20))

    for second in range(1, 60):
        rows = join_rows(rows, fed(driver, row(3 + second, 20 + second), ms=1000 * second))
        driver.answer(1000 * second + 500)

    assert len(rows) >= 60 - 1
    assert int(rows.pulses.sum()) == 20 + 59
    assert driver.counts["rows_lost"] == 1


def test_a_silent_node_keeps_its_gap() -> None:
    """While the node is not heard, nothing is given up, however long it takes."""
    driver = NodeDriver("bar")
    fed(driver, hello(), row(1, 0), row(3, 20))
    for ms in range(0, 3_600_000, 1000):
        driver.answer(ms)

    rows = fed(driver, row(2, 10), ms=3_600_000)

    assert rows.pulses.tolist() == [10, 10]


@pytest.mark.parametrize("last", [2**32 - 5, 2**32 - 1])
def test_counter_wrap_adds_no_litres(last: int) -> None:
    """A 32-bit count passing 2^32 counts on."""
    rows = fed(NodeDriver("bar"), hello(), row(1, last), row(2, (last + 25) % 2**32))

    assert rows.pulses.tolist() == [0, 25]
    assert rows.flags.tolist() == [0, 0]


def test_a_counter_that_began_anew_is_told_from_one_that_wrapped() -> None:
    """A smaller count under a new boot is what was counted since the start, and flagged."""
    driver = NodeDriver("bar")
    fed(driver, hello(), row(1, 5_000_000))
    other = BOOT + 0x10000

    rows = fed(driver, hello(boot=other), row(1, 12, boot=other), ms=60_000)

    assert rows.pulses.tolist() == [12]
    assert rows.flags.tolist() == [Flag.COUNTER_RESET]


def test_one_impossible_count_costs_no_litre() -> None:
    """A count that cannot be has no pulses and is flagged; the row after it has them all."""
    rows = fed(NodeDriver("bar"), hello(), row(1, 100), row(2, 4_000_000_000), row(3, 120))

    assert rows.pulses.tolist() == [0, NO_COUNT, 20]
    assert rows.flags.tolist() == [0, Flag.FLOW_SUSPECT, 0]


def test_a_counter_that_jumped_is_counted_on_from_there() -> None:
    """When the row after an impossible count follows on it, the jump adds no water."""
    rows = fed(
        NodeDriver("bar"), hello(), row(1, 100), row(2, 4_000_000_000), row(3, 4_000_000_020)
    )

    assert rows.pulses.tolist() == [0, NO_COUNT, 20]


@pytest.mark.parametrize(
    ("other", "flag"),
    [
        ({"outlet_ec": 100_000_000_000 // 100}, Flag.OUTLET_SUSPECT),
        ({"outlet_temp": 200_000}, Flag.OUTLET_SUSPECT),
        ({"inlet_ec": 4_000_000_000}, Flag.INLET_SUSPECT),
        ({"inlet_temp": -127_000}, Flag.INLET_SUSPECT),
    ],
)
def test_right_crc_with_absurd_values(other: dict[str, int], flag: Flag) -> None:
    """A value that no water has is no reading, is flagged and is counted; the rest stays."""
    driver = NodeDriver("bar")

    rows = fed(driver, hello(), row(1, 0, **other))

    values = [
        rows.outlet_us_cm[0],
        rows.outlet_temp_c[0],
        rows.inlet_us_cm[0],
        rows.inlet_temp_c[0],
    ]
    assert sum(np.isnan(values)) == 1
    assert rows.flags.tolist() == [flag]
    assert driver.counts["values_absurd"] == 1


@pytest.mark.parametrize(
    ("state", "value", "flags"),
    [
        (frames.NO_READING, False, Flag.GOOD),
        (frames.FAULT, False, Flag.INLET_SUSPECT),
        (frames.DOUBTFUL, True, Flag.INLET_SUSPECT),
        (frames.LOW, True, Flag.INLET_SUSPECT),
        (frames.HIGH, True, Flag.INLET_SUSPECT),
    ],
)
def test_what_the_node_says_of_a_channel(state: int, value: bool, flags: Flag) -> None:
    """No reading is blank and held against nobody; doubts flag the side."""
    rows = fed(NodeDriver("bar"), hello(), row(1, 0, status=state << (4 * frames.INLET_EC)))

    assert bool(np.isfinite(rows.inlet_us_cm[0])) is value
    assert rows.flags.tolist() == [flags]


def test_rows_received_late_get_their_true_instant() -> None:
    """Rows from while the host was away are dated by the node's uptime, not by their arrival."""
    driver = NodeDriver("bar")
    late = [row(seq, seq) for seq in range(1, 3000)]

    rows = fed(driver, *late[:2000], hello(2999, uptime_ms=3_000_000), *late[2000:], ms=3_000_000)

    assert rows.at_ms[0] == pytest.approx(START + 1000, abs=5)
    assert np.diff(rows.at_ms).min() >= 999


def test_a_drifting_crystal_is_followed() -> None:
    """A node that runs 50 ppm slow for a day is dated within half a second at the end."""
    driver = NodeDriver("bar")
    fed(driver, hello(), row(1, 0, uptime_ms=0), ms=30)
    rows = no_rows()
    jitter = random.Random(5)
    for seq in range(2, 1440):
        true_ms = 60_000 * seq
        delay = 20 + int(jitter.expovariate(1 / 200))
        one = row(seq, 0, uptime_ms=round(true_ms * (1 - 50e-6)))
        rows = join_rows(rows, fed(driver, one, ms=true_ms + delay))

    assert abs(int(rows.at_ms[-1]) - START - 60_000 * 1439) < 500


def test_a_host_clock_set_right_makes_a_step_and_no_row_runs_backwards() -> None:
    """Before the clock is set rows are flagged unsure; after it they are right; a step back
    never turns time back."""
    driver = NodeDriver("bar")
    first = Moment(now_ms=5_000, sane=False, wire_ms=0)
    driver.feed(hello().wire() + row(1, 0).wire(), first)
    unsure = rows_in(driver.take())
    right = fed(driver, row(2, 0), ms=2000)
    back = [fed(driver, row(seq, 0), ms=1000 * seq - 3_600_000) for seq in range(3, 1000)]

    assert unsure.flags.tolist() == [Flag.CLOCK_UNSURE]
    assert right.flags.tolist() == [0]
    assert right.at_ms[0] == pytest.approx(START + 2000, abs=5)
    stamps = np.concatenate([right.at_ms, *(rows.at_ms for rows in back)])
    assert np.diff(stamps).min() >= 0


def test_a_stray_boot_id_changes_nothing() -> None:
    """One frame with another boot id is not a restart of the node."""
    driver = NodeDriver("bar")

    rows = fed(driver, hello(), row(1, 0), row(9, 7, boot=99), row(2, 10))

    assert rows.pulses.tolist() == [0, 10]
    assert driver.counts["boots"] == 1
    assert driver.counts["rows_stray"] == 1


def test_a_wild_row_number_changes_nothing() -> None:
    """One row with a number far ahead opens no gap."""
    driver = NodeDriver("bar")

    rows = fed(driver, hello(), row(1, 0), row(4_000_000_000, 7), row(2, 10))

    assert rows.pulses.tolist() == [0, 10]
    assert wishes(driver, 5000) == []


def test_a_host_that_starts_again_goes_on_where_it_was() -> None:
    """With the state of its last lot, the next start asks for what came meanwhile and counts on."""
    first = NodeDriver("bar")
    first.feed(hello().wire() + row(1, 100).wire() + row(2, 110).wire(), at(2000))
    lot = first.take()
    assert lot is not None

    second = NodeDriver("bar", state=lot.state)
    none_yet = fed(second, hello(newest=5, uptime_ms=6000), row(5, 150), ms=6000)
    (wish,) = wishes(second, 6000)
    rows = fed(second, row(2, 110), row(3, 120), row(4, 140), ms=6100)

    assert len(none_yet) == 0
    assert (wish.first, wish.last) == (3, 4)
    assert rows.pulses.tolist() == [10, 20, 10]
    assert second.counts["rows_doubled"] == 1


def test_a_node_that_missed_a_confirmation_is_told_again() -> None:
    """A row that is on the disk and comes again shows that the node does not know it is safe."""
    driver = NodeDriver("bar")
    fed(driver, hello(), row(1, 0), row(2, 10))
    driver.confirm(BOOT, 2)
    driver.answer(0)

    fed(driver, row(1, 0), row(2, 10), ms=5000)
    (again,) = frames.Parser().feed(driver.answer(5000))

    assert (again.kind, vars(again)["seq"]) == (frames.CONFIRM, 2)
    assert driver.answer(6000) == b""


def test_after_a_start_the_node_is_told_what_is_on_the_disk() -> None:
    """A confirmation that was lost with the host is made good at the next start."""
    first = NodeDriver("bar")
    first.feed(hello().wire() + row(1, 100).wire() + row(2, 110).wire(), at(2000))
    lot = first.take()
    assert lot is not None
    second = NodeDriver("bar", state=lot.state)

    fed(second, hello(newest=2, uptime_ms=6000), hello(newest=2, uptime_ms=6000), ms=6000)
    said = frames.Parser().feed(second.answer(6000))

    assert [vars(f)["seq"] for f in said if f.kind == frames.CONFIRM] == [2]


@given(st.binary(max_size=3000), st.integers(0, 2**31))
def test_no_bytes_upset_the_driver(noise: bytes, seed: int) -> None:
    """Whatever comes in between, sound rows come out once, in order, with all their pulses."""
    chance = random.Random(seed)
    driver = NodeDriver("bar")
    sent = [hello(), *(row(seq, 7 * seq) for seq in range(1, 20))]
    rows = no_rows()
    for place, frame in enumerate(sent):
        cut = chance.randrange(len(noise) + 1)
        driver.feed(noise[:cut] + b"\0" + frame.wire(), at(1000 * place))
        rows = join_rows(rows, rows_in(driver.take()))

    assert rows.pulses.tolist() == [0] + [7] * 18


def test_a_line_may_be_counted_by_the_second_turbine() -> None:
    """With two turbines on a node each line says which one is its own."""
    driver = NodeDriver("bar", counter=2)

    rows = fed(driver, hello(), row(1, 500, pulses_2=10), row(2, 530, pulses_2=17))

    assert rows.pulses.tolist() == [0, 7]
