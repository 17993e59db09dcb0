"""A level that moves at once and one that creeps are told apart, and so is what moved beside it."""

from __future__ import annotations

import math

import numpy as np
import pytest

from analytics.diagnosis.days import Day, move_of, night_of, shift_of, turned_of
from analytics.diagnosis.slow import found_in
from analytics.diagnosis.steps import step_of
from analytics.diagnosis.tally import classes, median, share_below
from analytics.setup import LocalTime
from tests.makers import hydrogen_line

STEADY = [0.0, 0.004, -0.003, 0.002, 0.001, -0.002]
UTC = LocalTime()


def days(ratio: list[float], inlet: list[float], used: float = 0.3, **more: float) -> list[str]:
    """Codes found in days with these levels, behind a bed that leaves three fifths."""
    some = tuple(
        Day(day=place, ratio=r - 0.5, inlet=6.3 + i, outlet=5.8 + i + r, used=used, **more)
        for place, (r, i) in enumerate(zip(ratio, inlet, strict=True))
    )
    return [f"{f.code} {f.which}".strip() for f in found_in(hydrogen_line(), UTC, some)]


def test_a_step_is_at_once_and_a_film_is_not() -> None:
    """Two days that hold three quarters of a move make it a step."""
    step = move_of([*STEADY, 0.2, 0.2, 0.201])
    creep = move_of([*STEADY, 0.03, 0.06, 0.09, 0.12, 0.15])

    assert (step.step, step.settled, step.place) == (True, True, 6)
    assert not creep.step
    assert creep.by == pytest.approx(0.135, abs=0.02)


def test_a_shift_needs_two_days_running() -> None:
    """A lone odd day is no shift; two are, and it began with the first."""
    assert shift_of([*STEADY, 0.7], 0.2) == (0.0, 0)
    by, place = shift_of([*STEADY, 0.7, 0.68], 0.2)

    assert (round(by, 2), place) == (0.69, 6)


def test_a_small_step_is_clear_where_days_hardly_move() -> None:
    """Two hundredths beside days that move by thousandths are a step; a slope of two hundredths a
    day is none, and neither are they where days move as much."""
    quiet = [0.001, 0.0, 0.002, 0.001, 0.0, 0.001]
    slope = [0.02 * day for day in range(10)]
    restless = [0.0, 0.02, -0.01, 0.015, -0.02, 0.01, 0.03, 0.02, 0.04]
    step = step_of([*quiet, 0.02, 0.021, 0.02])

    assert (step.clear(0.012), step.place) == (True, 6)
    assert step.by == pytest.approx(0.02, abs=0.002)
    assert not step_of([*quiet, 0.02, 0.021, 0.02, 0.03, 0.04, 0.05]).clear(0.012)
    assert not step_of(slope).clear(0.012)
    assert not step_of(restless).clear(0.012)
    assert not step_of(quiet[:4]).clear(0.0)


def test_a_night_that_moved_over_midnight_has_moved_all_the_same() -> None:
    """Flow from 7 to 19, then from 19 to 7: the night is on a circle, the shift the shorter way."""
    day = sum(1 << half for half in range(14, 38))
    turned = sum(1 << half % 48 for half in range(14 + 13, 38 + 13))
    ends = [night_of(each)[0] for each in (day, day, day, day, turned, turned)]

    assert night_of(day) == (420.0, 1140.0)
    assert night_of(turned) == (810.0, 90.0)
    assert turned_of(ends, 90.0) == (390.0, 4)
    assert all(math.isnan(edge) for edge in (*night_of(0), *night_of(0x5555_5555_5555)))


def test_what_moves_both_probes_is_the_water_and_what_moves_one_is_not() -> None:
    """Both at once: another raw water. The outlet alone: bypass, or on a worn bed a new cartridge,
    or where no bypass explains it, another water. Slowly: a film on the probe that sinks."""
    still, settled = [0.0] * 9, [0.0] * 10
    up, down = [*STEADY, 0.12, 0.12, 0.12], [*STEADY, -0.12, -0.12, -0.12]
    sinks = [*STEADY, -0.04, -0.08, -0.12, -0.16]

    assert days([0.0] * 9, up) == ["raw-water-changed"]
    assert days(up, still) == ["bypass-moved"]
    assert days(down, still) == ["bypass-moved"]
    assert days([6.0 * each for each in down], still) == ["raw-water-changed"]
    assert days(down, still, used=0.9) == ["cartridge-unannounced"]
    assert days(sinks, settled) == ["film outlet"]
    assert days([-each for each in sinks], sinks) == ["film inlet"]
    assert days(STEADY, STEADY) == []
    small, follows = [0.0] * 6 + [-0.02] * 4, [0.0] * 6 + [-0.015] * 4
    assert days(small, [0.0] * 10) == ["bypass-moved"]
    assert days(small, follows) == []


def test_a_bubbling_day_is_told_by_its_low_readings() -> None:
    """Some per cent far below the middle; a few thousandths are usual."""
    assert days(STEADY, STEADY, outlet_low=0.1) == ["bubbles outlet"]
    assert days(STEADY, STEADY, outlet_low=0.006) == []


def test_classes_keep_medians_and_tails() -> None:
    """The median to the width of a class; NaN for too few."""
    values = classes(np.array([1.0, 1.01, 1.02, 1.03, 0.2]), 0.05)

    assert median(values, 0.05) == pytest.approx(1.02, abs=0.03)
    assert share_below(values, 6) == 0.2
    assert math.isnan(median(values, 0.05, least=6))
