"""Chances of an end from the three figures that travel with an estimate."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analytics.fleet.chances import (
    aged,
    chance_of_any,
    chance_of_end_by,
    chances_of_end_by,
    silent_range,
)
from analytics.samples import Spread

GAP = st.floats(0.0, 200.0)


@given(st.floats(-50.0, 400.0), st.floats(0.01, 200.0), st.floats(0.01, 200.0))
def test_all_three_points_are_honoured(p05: float, to_median: float, to_high: float) -> None:
    """At the 5, 50 and 95 % points the chance is 5, 50 and 95 %."""
    p50 = p05 + to_median
    p95 = p50 + to_high

    assert chance_of_end_by(p05, p50, p95, p05) == pytest.approx(0.05, abs=1e-4)
    assert chance_of_end_by(p05, p50, p95, p50) == pytest.approx(0.5)
    assert chance_of_end_by(p05, p50, p95, p95) == pytest.approx(0.95, abs=1e-4)


@given(st.floats(-50.0, 400.0), GAP, GAP, st.floats(-100.0, 800.0), GAP)
def test_a_later_day_is_never_less_likely(
    p05: float, to_median: float, to_high: float, days: float, more: float
) -> None:
    """The chance never falls with time, and stays between nothing and certainty."""
    points = (p05, p05 + to_median, p05 + to_median + to_high)

    first, later = (chance_of_end_by(*points, at) for at in (days, days + more))

    assert 0.0 <= first <= later <= 1.0


def test_a_range_that_begins_today_leaves_its_five_in_a_hundred() -> None:
    """A range from nothing on says that the end may have come: one chance in twenty."""
    assert chance_of_end_by(0.0, 4.0, 11.0, 0.0) == pytest.approx(0.05, abs=1e-4)


def test_a_fixed_date_is_no_chance_before_and_certain_from_it_on() -> None:
    """A time limit has three equal points."""
    before, at = (chance_of_end_by(30.0, 30.0, 30.0, days) for days in (29.999, 30.0))

    assert (before, at) == (0.0, 1.0)


def test_the_chance_is_that_of_a_normal_where_both_sides_are_equal() -> None:
    """Days to the end 20 +- 5 (one standard deviation): a week early is 1.4 deviations."""
    half = 1.6448536 * 5.0
    drawn = np.random.default_rng(8).normal(20.0, 5.0, 200_000)

    chance = chance_of_end_by(20.0 - half, 20.0, 20.0 + half, 13.0)

    assert chance == pytest.approx(float((drawn <= 13.0).mean()), abs=0.003)


def test_arrays_give_what_single_figures_give() -> None:
    """Many lines at once, the fixed and the unknown among them."""
    points = np.array([[2.0, 9.0, 30.0], [5.0, 5.0, 5.0], [np.nan, 1.0, 2.0]])

    together = chances_of_end_by(*points.T, 7.0)

    singly = [chance_of_end_by(*row, 7.0) for row in points[:2].tolist()]
    assert together[:2] == pytest.approx(singly, abs=1e-6)
    assert np.isnan(together[2])


def test_an_old_estimate_is_wider_on_both_sides() -> None:
    """Ten days without a word: nothing drawn, or half as much again."""
    told = Spread(p05=17.0, p50=20.0, p95=24.0)

    now = aged(told, 10.0)

    assert now.p50 == 20.0
    assert 20.0 - now.p05 == pytest.approx(np.hypot(3.0, 5.0))
    assert now.p95 - 20.0 == pytest.approx(np.hypot(4.0, 10.0))
    assert aged(told, 0.0) == told


@given(st.floats(0.0, 30.0), st.floats(0.0, 60.0))
def test_the_range_of_a_silence_holds_the_chance_without_it(silent: float, days: float) -> None:
    """Least, as told, most."""
    told = Spread(p05=8.0, p50=20.0, p95=31.0)

    low, high = silent_range(told, silent, days)

    assert low <= chance_of_end_by(8.0, 20.0, 31.0, days) <= high


def test_any_of_two_ends_is_likelier_than_each() -> None:
    """1 - 0.9 * 0.8."""
    assert chance_of_any([0.1, 0.2]) == pytest.approx(0.28)
    assert chance_of_any([]) == 0.0
