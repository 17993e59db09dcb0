"""How many cartridges the next weeks take: against counting simulated futures."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analytics.fleet.parts import Wanted, days_ahead, needs, summed
from analytics.samples import DAY_MS, Floats, Spread

Z95 = 1.6449


def wanted(middle: float, half: float, life: float | None = None, size: str = "3") -> Wanted:
    """A line whose end lies `half` days about the middle, 90 times in 100."""
    ahead = Spread(p05=middle - half, p50=middle, p95=middle + half)
    return Wanted(medium="hydrogen", size=size, ahead=ahead, life_days=life)


def simulated(lines: list[Wanted], days: float, futures: int, seed: int) -> Floats:
    """Cartridges taken by all lines in each of many drawn futures."""
    rng = np.random.default_rng(seed)
    taken = np.zeros(futures)
    for pace, future in zip(
        np.exp(0.06 * rng.standard_normal(futures)), range(futures), strict=True
    ):
        for line in lines:
            assert line.ahead is not None
            sd = (line.ahead.p95 - line.ahead.p50) / Z95
            at = max(line.ahead.p50 + sd * rng.standard_normal(), 0.0)
            while at <= days * pace:
                taken[future] += 1
                if line.life_days is None:
                    break
                at += line.life_days * np.exp(0.25 * rng.standard_normal())
    return taken


def test_a_mixed_fleet_takes_what_simulated_futures_take() -> None:
    """Forty lines, some past their end, some that last only three weeks."""
    rng = np.random.default_rng(5)
    lines = [
        wanted(float(rng.uniform(-5.0, 120.0)), float(rng.uniform(2.0, 30.0)), life)
        for life in [None] * 15 + [20.0] * 10 + [150.0] * 15
    ]

    (found,) = needs(lines, 42.0)

    drawn = simulated(lines, 42.0, 3000, 1)
    assert found.mean == pytest.approx(float(drawn.mean()), rel=0.02)
    for share, figure in ((0.05, found.count.p05), (0.5, found.count.p50), (0.95, found.count.p95)):
        assert abs(float(np.quantile(drawn, share)) - figure) <= 1.0


def test_second_changes_count() -> None:
    """A line that ends today and every ten days takes five in six weeks, not one."""
    once, often = wanted(0.0, 0.5), wanted(0.0, 0.5, life=10.0)

    (first,), (second,) = needs([once], 42.0), needs([often], 42.0)

    assert first.count.p50 == 1.0
    assert 4.0 <= second.count.p50 <= 5.0


def test_sizes_are_counted_apart_and_the_unknown_are_named() -> None:
    """What nobody knows is not hidden in a sum."""
    lines = [
        wanted(3.0, 1.0),
        wanted(3.0, 1.0, size="5"),
        Wanted(medium="hydrogen", size="5", ahead=None),
    ]

    small, large = needs(lines, 14.0)

    assert (small.size, small.lines, small.unknown, small.count.p50) == ("3", 1, 0, 1.0)
    assert (large.size, large.lines, large.unknown, large.count.p50) == ("5", 2, 1, 1.0)


def test_nothing_is_taken_where_nothing_ends() -> None:
    """A certain nothing."""
    (found,) = needs([wanted(900.0, 20.0)], 28.0)

    assert (found.count, found.mean) == (Spread(p05=0.0, p50=0.0, p95=0.0), pytest.approx(0.0))
    assert needs([], 28.0) == ()


def test_what_moves_all_lines_alike_keeps_a_large_fleet_doubtful() -> None:
    """1500 lines spread over a year: chance alone would leave +- 5 %, a busy summer leaves more."""
    rng = np.random.default_rng(3)
    lines = [wanted(float(m), 5.0) for m in rng.uniform(0.0, 365.0, 1500)]

    (found,) = needs(lines, 56.0)

    width = (found.count.p95 - found.count.p05) / found.count.p50
    assert width > 2 * Z95 * 0.06 * 0.9


@given(st.lists(st.floats(0.0, 1.0), max_size=12))
def test_a_sum_of_yes_or_no_has_the_mean_and_variance_it_must(chances: list[float]) -> None:
    """Mean is the sum of p, variance the sum of p (1 - p), and all chances make one."""
    p = np.array(chances).reshape(-1, 1)

    found = summed(np.hstack((1.0 - p, p)))

    count = np.arange(len(found))
    mean = float(found @ count)
    assert float(found.sum()) == pytest.approx(1.0)
    assert mean == pytest.approx(float(p.sum()), abs=1e-6)
    assert float(found @ (count - mean) ** 2) == pytest.approx(float((p * (1 - p)).sum()), abs=1e-6)


@given(st.floats(-30.0, 300.0), st.floats(0.1, 60.0), st.floats(3.0, 200.0), st.floats(0.0, 100.0))
def test_longer_spans_never_take_less(middle: float, half: float, life: float, days: float) -> None:
    """Means grow with the span, and chances make one."""
    line = wanted(middle, half, life)

    (short,), (long,) = needs([line], days), needs([line], days + 7.0)

    assert short.mean <= long.mean + 0.05
    assert sum(short.chance) == pytest.approx(1.0)


def test_instants_become_days_from_now() -> None:
    """An end of yesterday is a day ago."""
    found = days_ahead(10 * DAY_MS, 9 * DAY_MS, 10 * DAY_MS, 12 * DAY_MS)

    assert found == Spread(p05=-1.0, p50=0.0, p95=2.0)
