"""One answer however it is cut, saved and reloaded, or told late."""

from __future__ import annotations

from typing import Any

import msgspec
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analytics.pipeline import Block, LineState, advance, gaps_in, start
from analytics.samples import (
    DAY_MS,
    DRAW_COLUMNS,
    HOUR_MS,
    AnyEvent,
    Draws,
    DropTest,
    Estimate,
    Point,
    Rows,
    join_draws,
    no_draws,
)
from analytics.setup import LocalTime
from analytics.snapshot import from_bytes, to_bytes
from analytics.weigh import weigh
from tests.makers import DH, MONDAY_MS, cafe_rows, hydrogen_line, usual_facts

LOCAL = LocalTime(offset_s=(7200,))
LINE = hydrogen_line()
SEED = 7
DAYS = 3
GAP = (MONDAY_MS + DAY_MS + 9 * HOUR_MS, MONDAY_MS + DAY_MS + 14 * HOUR_MS)
"""No row comes on the second day from 9 to 14 o'clock."""


def rows_with_a_gap() -> Rows:
    """Rows of the days, those of the gap left out."""
    rows = cafe_rows(DAYS, seed=3)
    return rows.pick(np.flatnonzero((rows.at_ms < GAP[0]) | (rows.at_ms >= GAP[1])))


ROWS = rows_with_a_gap()
END = MONDAY_MS + DAYS * DAY_MS
LATE_TEST = DropTest(
    at_ms=MONDAY_MS + 2 * DAY_MS + 5_000_000,
    event_id="z",
    point=Point.BLENDED,
    alkalinity_meq_l=6 * DH,
)


def run(
    edges: list[int], events: tuple[AnyEvent, ...], *, reload_after: frozenset[int] = frozenset()
) -> tuple[LineState, Draws, list[Estimate]]:
    """Advance through blocks that end at these instants."""
    state, draws, estimates, done = start(LINE, SEED), no_draws(), list[Estimate](), 0
    told = -1
    for number, edge in enumerate(sorted(edges)):
        upto = max(done, int(np.searchsorted(ROWS.at_ms, edge, side="right")))
        due = tuple(e for e in events if told < e.at_ms <= edge)
        block = Block(end_ms=edge, rows=ROWS.cut(done, upto), events=due)
        step = advance(LINE, LOCAL, SEED, state, block)
        assert step.late == ()
        state, draws, done, told = step.state, join_draws(draws, step.draws), upto, edge
        estimates += step.estimates
        if number in reload_after:
            again = from_bytes(to_bytes(state), LineState)
            assert again is not None
            state = again
    return state, draws, estimates


def bits(value: Any) -> bytes:
    return to_bytes(value) if isinstance(value, msgspec.Struct) else repr(value).encode()


def assert_same(first: Draws, second: Draws) -> None:
    for name in DRAW_COLUMNS:
        assert getattr(first, name).tobytes() == getattr(second, name).tobytes(), name


WHOLE = run([END], usual_facts())


@pytest.mark.timeout(180)
@settings(max_examples=15)
@given(
    st.lists(st.integers(MONDAY_MS, END), max_size=30),
    st.frozensets(st.integers(0, 30), max_size=4),
)
def test_any_cutting_and_any_reload_gives_the_same_bits(
    cuts: list[int], reloads: frozenset[int]
) -> None:
    """Blocks at random boundaries, snapshots at random moments: bit-identical."""
    state, draws, estimates = run([*cuts, END], usual_facts(), reload_after=reloads)

    assert_same(draws, WHOLE[1])
    assert [bits(e) for e in estimates] == [bits(e) for e in WHOLE[2]]
    assert bits(state.weighing) == bits(WHOLE[0].weighing)


def test_a_gap_in_the_rows_is_told_with_what_was_added_for_it() -> None:
    """Five hours without a row: less the quarter of an hour that is no gap yet, and its litres."""
    remarks = {n.code: n for n in WHOLE[2][-1].remarks}

    assert remarks["gap-unseen"].values["hours"] == pytest.approx(4.75, abs=0.05)
    assert 5.0 < remarks["gap-unseen"].values["litres"] < 60.0


def test_a_second_at_a_time_gives_what_a_day_at_a_time_gives() -> None:
    """Live and replay agree over a morning, block by second."""
    begin, end = MONDAY_MS + 7 * 3_600_000, MONDAY_MS + 8 * 3_600_000
    live = run([*range(begin, end, 1000), end], usual_facts())
    replayed = run([begin, end], usual_facts())

    assert_same(live[1], replayed[1])
    assert [bits(e) for e in live[2]] == [bits(e) for e in replayed[2]]


def test_a_drop_test_told_late_gives_what_it_would_have_given_in_time() -> None:
    """From the snapshot before it, with the stored draws, the estimates come out the same."""
    in_time, _, expected = run([END], (*usual_facts(), LATE_TEST))
    before = MONDAY_MS + DAY_MS
    snapshot = run([before], usual_facts())[0].weighing
    all_draws = WHOLE[1]
    place = int(np.searchsorted(all_draws.end_ms, snapshot.step_ms, side="right"))
    clean = msgspec.structs.replace(snapshot, draws=no_draws(), events=())
    events = tuple(e for e in (*usual_facts(), LATE_TEST) if e.at_ms > snapshot.step_ms)

    gaps = gaps_in(LINE, 0, Block(end_ms=END, rows=ROWS))
    weighing, revised = weigh(
        LINE, LOCAL, SEED, clean, all_draws.cut(place, len(all_draws)), events, END, gaps
    )

    assert [bits(e) for e in revised] == [bits(e) for e in expected if e.at_ms > snapshot.step_ms]
    assert bits(weighing.belief) == bits(in_time.weighing.belief)


def test_a_fact_dated_before_what_was_weighed_is_handed_back() -> None:
    """The pipeline never weighs a late fact at the wrong place; the caller replays."""
    state, _, _ = run([END], usual_facts())
    step = advance(LINE, LOCAL, SEED, state, Block(end_ms=END + 1000, events=(LATE_TEST,)))

    assert step.late == (LATE_TEST,)


def test_estimates_come_at_least_every_six_hours_through_an_outage() -> None:
    """Two days without any row still give estimates."""
    state, _, _ = run([END], usual_facts())
    step = advance(LINE, LOCAL, SEED, state, Block(end_ms=END + 2 * DAY_MS))
    times = [e.at_ms for e in step.estimates]

    assert len(times) >= 8
    assert max(np.diff(times)) <= 6 * 3_600_000


def test_dead_meters_raise_the_data_gap_alarm_without_any_row() -> None:
    """A block with no rows still has an end, and the silence is seen."""
    state, _, _ = run([END], usual_facts())
    step = advance(LINE, LOCAL, SEED, state, Block(end_ms=END + 3_600_000))
    changes = [(a.alarm, a.change, a.at_ms) for a in step.alarms]

    assert ("data-gap", "raised", int(ROWS.at_ms[-1]) + 900_000) in changes

    later = int(ROWS.at_ms[-1]) + 7_200_000
    row = Rows(**{n: np.array([later]) if n == "at_ms" else c[:1] for n, c in columns().items()})
    step = advance(LINE, LOCAL, SEED, step.state, Block(end_ms=later + 1000, rows=row))

    assert ("data-gap", "cleared", later) in [(a.alarm, a.change, a.at_ms) for a in step.alarms]


def columns() -> dict[str, Any]:
    return {name: getattr(ROWS, name) for name in ROWS.__struct_fields__}


def test_a_part_used_cartridge_is_never_taken_for_new() -> None:
    """Without an announcement the start is unknown, and the figure says so by its width."""
    _, _, fresh = run([END], usual_facts())
    _, _, unknown = run([END], usual_facts()[1:])
    told, untold = fresh[-1].used_share, unknown[-1].used_share

    assert told is not None
    assert untold is not None
    assert untold.p95 - untold.p05 > 2.0 * (told.p95 - told.p05)


def test_every_figure_has_its_range_in_order() -> None:
    """5 % point, median and 95 % point stand in order in every estimate."""
    for estimate in WHOLE[2]:
        for spread in (estimate.remaining_l, estimate.outlet_mmol_l, estimate.days_left):
            if spread is not None:
                assert spread.p05 <= spread.p50 <= spread.p95
        rests = estimate.rests_on
        assert abs(rests.litres + rests.conductivity + rests.drop_tests - 1.0) < 1e-9


def test_rows_that_were_only_on_their_way_end_the_silence() -> None:
    """A silence that was none clears when its rows arrive."""
    state, _, _ = run([END], usual_facts())
    last, now = int(ROWS.at_ms[-1]), END + 3_600_000
    step = advance(LINE, LOCAL, SEED, state, Block(end_ms=now))
    at = np.arange(last + 600_000, now, 600_000)
    late = {n: at if n == "at_ms" else c[: len(at)] for n, c in columns().items()}
    step = advance(LINE, LOCAL, SEED, step.state, Block(end_ms=now + 1000, rows=Rows(**late)))

    assert [(a.alarm, a.change) for a in step.alarms] == [("data-gap", "cleared")]
