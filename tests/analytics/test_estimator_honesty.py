"""Whether the ranges are honest: a small seeded set of lives of the own column model."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from firmware_bridge.backtest.score import Score
from tests.bench.calibration import report

pytestmark = pytest.mark.timeout(300)
"""Eight whole lives, made and weighed once."""

COUNT = 8
SEED = 5


@cache
def scores() -> tuple[Score, ...]:
    """An undisturbed life of every medium and layout."""
    return report(COUNT, SEED, "normal", workers=2).scores


def test_the_range_holds_the_truth_about_as_often_as_it_says() -> None:
    """Of all days between nine tenths left and the end, most lie in the 5-95 % range."""
    inside = sum(s.inside for s in scores())
    days = sum(s.inside + s.below + s.above for s in scores())

    assert 0.72 <= inside / days <= 0.995


def test_no_life_ends_without_a_warning_and_the_counter_misses_some() -> None:
    """A warning comes between 35 % left and the end."""
    assert sum(bool(s.missed) for s in scores()) <= 1
    assert sum(bool(s.counter_missed) for s in scores()) >= 1


@pytest.mark.parametrize("mark", ["50", "25", "10"])
def test_the_error_is_below_that_of_a_plain_counter(mark: str) -> None:
    """Median absolute error over all media and layouts, in per cent of the total."""
    own = np.median([abs(s.errors[mark] or 0.0) for s in scores()])
    counter = np.median([abs(s.counter_errors[mark] or 0.0) for s in scores()])

    assert own < counter


def test_a_pair_on_hydrogen_or_mixed_knows_the_end_when_it_is_near() -> None:
    """At a tenth left the front shows in the outlet's conductivity."""
    near = [
        abs(s.errors["10"] or 0.0)
        for s in scores()
        if s.layout == "pair" and s.medium in ("hydrogen", "mixed")
    ]

    assert np.median(near) < 0.08


def test_outlet_hardness_is_met_within_three_tenths_of_a_degree() -> None:
    """Median distance over all lives, in dH."""
    off = [s.outlet_mmol_l / 0.178326 for s in scores() if s.outlet_mmol_l is not None]

    assert np.median(off) < 0.3
