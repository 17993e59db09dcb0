"""Draws from rows: counted whole, cut-independent, standing water left out."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analytics.draws import GAP_MS, PIECE_MS, Gate, Run, find_draws, settled_ms
from analytics.samples import DRAW_COLUMNS, Draws, Floats, Rows, join_draws, no_draws, rows_of

START = 1_700_000_000_000
GATE = Gate.at(1000.0)


def natural(temp_c: Floats) -> Floats:
    return 1.0 / (1.0 + 0.02 * (temp_c - 25.0))


def flowing(seconds: list[int], pulses: list[int], ec: list[float] | float = 500.0) -> Rows:
    ecs = ec if isinstance(ec, list) else [ec] * len(seconds)
    return rows_of(
        [
            (START + s * 1000, e, 25.0, 2 * e, 25.0, p, 0)
            for s, e, p in zip(seconds, ecs, pulses, strict=True)
        ]
    )


def all_draws(rows: Rows, end_ms: int | None = None) -> Draws:
    end = int(rows.at_ms[-1]) + GAP_MS + 1 if end_ms is None else end_ms
    return find_draws(Run(), rows, end, GATE, natural)[1]


def test_one_flow_event_is_one_draw_with_all_its_pulses() -> None:
    """Rows with pulses closer than the gap make one draw."""
    draws = all_draws(flowing([0, 5, 10, 20], [0, 30, 40, 50]))

    assert draws.pulses.tolist() == [120]
    assert draws.start_ms.tolist() == [START]
    assert draws.end_ms.tolist() == [START + 20_000]


def test_a_pause_longer_than_the_gap_begins_a_new_draw() -> None:
    """Thirty seconds without a pulse end a draw."""
    draws = all_draws(flowing([0, 5, 20, 40, 60, 65], [0, 30, 0, 0, 0, 7]))

    assert draws.pulses.tolist() == [30, 7]


def test_a_leak_is_cut_at_a_quarter_of_an_hour() -> None:
    """A flow that never ends still gives draws."""
    seconds = list(range(0, 7200, 10))
    draws = all_draws(flowing(seconds, [1] * len(seconds)))

    assert int(draws.pulses.sum()) == len(seconds)
    assert (draws.end_ms - draws.start_ms).max() <= PIECE_MS + 10_000


def test_five_litres_end_a_piece() -> None:
    """A long filling gives a draw every five litres."""
    seconds = list(range(0, 300, 5))
    draws = all_draws(flowing(seconds, [500] * len(seconds)))

    assert draws.pulses.max() <= 5_500
    assert int(draws.pulses.sum()) == 500 * len(seconds)


def test_water_that_stood_does_not_count_until_it_is_purged() -> None:
    """The first two litres after standing carry no conductivity; the next do, across draws."""
    rows = flowing([0, 10, 20, 100, 110, 120], [0, 1000, 900, 0, 200, 300], 500.0)
    draws = all_draws(rows)

    assert np.isnan(draws.outlet_ec25_us_cm[0])
    assert draws.outlet_ec25_us_cm[1] == pytest.approx(500.0)
    assert draws.pulses_before.tolist() == [0, 1900]
    assert draws.still_ms[0] == draws.still_ms[1]


def test_a_bubble_does_not_move_the_mean() -> None:
    """A reading far below its draw's median is left out."""
    ecs = [500.0] * 20
    ecs[12] = 300.0
    seconds = [10 * i for i in range(20)]
    draws = all_draws(flowing(seconds, [800] * 20, ecs))

    seen = draws.outlet_ec25_us_cm[np.isfinite(draws.outlet_ec25_us_cm)]
    assert seen.tolist() == pytest.approx([500.0] * len(seen))


def test_rows_that_come_late_are_counted_and_left_out() -> None:
    """A row not later than the last one seen adds no pulse."""
    run, _ = find_draws(Run(), flowing([0, 10], [0, 5]), START + 10_000, GATE, natural)
    run, draws = find_draws(run, flowing([5, 20], [9, 5]), START + 60_000, GATE, natural)

    assert run.late_rows == 1
    assert draws.pulses.tolist() == [10]


def test_nothing_settles_before_an_open_draw() -> None:
    """While a draw is open, only what came before its last row may be weighed."""
    run, _ = find_draws(Run(), flowing([0, 10], [0, 5]), START + 12_000, GATE, natural)

    assert settled_ms(run, START + 12_000) == START + 9_999


row_steps = st.lists(
    st.tuples(
        st.integers(1, 90),
        st.integers(0, 900),
        st.floats(300.0, 700.0),
        st.floats(5.0, 30.0),
        st.booleans(),
    ),
    min_size=1,
    max_size=120,
)


@given(row_steps, st.lists(st.integers(0, 6000), max_size=12))
def test_the_answer_does_not_depend_on_how_rows_are_cut(
    steps: list[tuple[int, int, float, float, bool]], cuts: list[int]
) -> None:
    """Any cutting into blocks gives bit-identical draws."""
    at, records = START, []
    for seconds, pulses, ec, temp, blank in steps:
        at += seconds * 1000
        value = float("nan") if blank else ec
        records.append((at, value, temp, ec, temp, pulses, 0))
    rows = rows_of(records)
    end = at + GAP_MS + 1
    _, whole = find_draws(Run(), rows, end, GATE, natural)

    run, parts, done = Run(), no_draws(), 0
    for edge in [*sorted(START + 1000 * c for c in cuts), end]:
        upto = int(np.searchsorted(rows.at_ms, edge, side="right"))
        run, draws = find_draws(run, rows.cut(done, upto), edge, GATE, natural)
        parts, done = join_draws(parts, draws), max(done, upto)

    same(whole, parts)
    assert int(whole.pulses.sum()) == int(rows.pulses.sum())


def same(first: Draws, second: Draws) -> None:
    for name in DRAW_COLUMNS:
        a: Any = getattr(first, name)
        b: Any = getattr(second, name)
        assert a.tobytes() == b.tobytes(), name
