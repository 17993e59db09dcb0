"""A level that moves at once and one that creeps are told apart, and so is what moved beside it."""

from __future__ import annotations

import math

import numpy as np
import pytest

from analytics.diagnosis.days import Day, move_of, shift_of
from analytics.diagnosis.slow import found_in
from analytics.diagnosis.tally import classes, median, share_below
from analytics.setup import LocalTime
from tests.makers import hydrogen_line

STEADY = [0.0, 0.004, -0.003, 0.002, 0.001, -0.002]
UTC = LocalTime()


def days(ratio: list[float], inlet: list[float], used: float = 0.3, **more: float) -> list[str]:
    """Codes found in days with these levels."""
    some = tuple(
        Day(day=place, ratio=r, inlet=6.3 + i, outlet=6.3 + i + r, used=used, **more)
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


def test_what_moves_both_probes_is_the_water_and_what_moves_one_is_not() -> None:
    """Both at once: another raw water. The outlet alone: bypass, or on a worn bed a new cartridge.
    Slowly: a film on the probe that sinks."""
    still, settled = [0.0] * 9, [0.0] * 10
    up, down = [*STEADY, 0.12, 0.12, 0.12], [*STEADY, -0.12, -0.12, -0.12]
    sinks = [*STEADY, -0.04, -0.08, -0.12, -0.16]

    assert days([0.0] * 9, up) == ["raw-water-changed"]
    assert days(up, still) == ["bypass-moved"]
    assert days(down, still) == ["bypass-moved"]
    assert days(down, still, used=0.9) == ["cartridge-unannounced"]
    assert days(sinks, settled) == ["film outlet"]
    assert days([-each for each in sinks], sinks) == ["film inlet"]
    assert days(STEADY, STEADY) == []


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
