"""What a learnt prior is worth: whole lives through the real estimate, rated against learnt."""

from __future__ import annotations

import math
from functools import cache

import msgspec
import numpy as np
import pytest

from analytics.belief import FIELD_LN, YIELD_SD
from analytics.fleet.capacity_prior import as_stated, learn
from analytics.samples import Spread
from analytics.setup import LineSetup
from analytics.weigh import start_weighing, weigh
from tests.fleets import KINDS, fleet
from tests.quick_lives.life import QuickLife, quick_life

LIVES = (7, 12)
"""Magnesium behind one probe, sodium behind a pair: conductivity tells little of both."""
KIND, REGION = "hydrogen 3", "river"
"""A kind that delivers four fifths of its rating where the raw water is a river's."""

pytestmark = [pytest.mark.timeout(120), pytest.mark.xdist_group("prior-through-the-estimate")]
"""Half lives are weighed twice, some seconds each, and shared by the tests."""


@cache
def half_used(number: int, learnt: bool) -> tuple[Spread, float]:
    """Litres left of a life half used, as estimated and as they are, where the maker promises
    a quarter more than such cartridges hold."""
    life = quick_life(number, 5, "normal")
    line = life.setup.lines[0]
    assert line.capacity_mmol is not None
    rated = msgspec.structs.replace(line, capacity_mmol=line.capacity_mmol / KINDS[KIND])
    return weighed_to_half(life, learnt_from_fleet(rated) if learnt else rated)


def learnt_from_fleet(line: LineSetup) -> LineSetup:
    """The line as a new site file would have it that the fleet's prior was put into."""
    prior = learn(fleet(150, 3).served, np.random.default_rng(1)).of(KIND, REGION)
    assert prior is not None
    assert line.capacity_mmol is not None
    capacity, spread = as_stated(prior, line.capacity_mmol)
    return msgspec.structs.replace(line, capacity_mmol=capacity, capacity_relative_sd=spread)


def weighed_to_half(life: QuickLife, line: LineSetup) -> tuple[Spread, float]:
    """The estimate's litres left when half of the true life has flowed, and the truth."""
    truth, setup = life.truth, life.setup
    hour = int(np.searchsorted(truth.litres, 0.5 * truth.total_l))
    until = int(truth.hour_ms[hour])
    count = int(np.searchsorted(life.draws.end_ms, until, side="right"))
    events = tuple(event for event in setup.dated if event.at_ms <= until)
    begun = start_weighing(line, setup.seed)
    _, estimates = weigh(
        line, setup.local_time, setup.seed, begun, life.draws.cut(0, count), events, until
    )
    assert estimates[-1].remaining_l is not None
    return estimates[-1].remaining_l, truth.total_l - float(truth.litres[hour])


def test_a_learnt_prior_lowers_the_error_of_the_litres_left() -> None:
    """Half used: rated, the litres left are a quarter of a life too many; learnt, a few parts in a
    hundred off."""
    errors = {
        learnt: [
            abs(told.p50 - truth) / (2.0 * truth)
            for told, truth in (half_used(number, learnt) for number in LIVES)
        ]
        for learnt in (False, True)
    }

    assert np.mean(errors[True]) < 0.4 * np.mean(errors[False])
    assert max(errors[True]) < 0.12


def test_the_estimate_tells_what_the_cartridge_holds_of_what_is_stated() -> None:
    """A new cartridge is what is stated, less what the field takes off, give or take its spread."""
    life = quick_life(7, 5, "normal")
    line = msgspec.structs.replace(life.setup.lines[0], capacity_relative_sd=0.10)
    until = int(life.truth.hour_ms[30])
    events = tuple(event for event in life.setup.dated if event.at_ms <= until)
    drawn = life.draws.cut(0, int(np.searchsorted(life.draws.end_ms, until, side="right")))

    begun = start_weighing(line, 1)
    _, estimates = weigh(line, life.setup.local_time, 1, begun, drawn, events, until)

    share = estimates[-1].capacity_share
    assert share is not None
    assert math.log(share.p50) == pytest.approx(FIELD_LN, abs=0.02)
    width = math.log(share.p95 / share.p05) / (2.0 * 1.6449)
    assert width == pytest.approx(math.hypot(0.10, YIELD_SD), rel=0.1)


@pytest.mark.parametrize("number", LIVES)
def test_the_range_of_a_learnt_prior_holds_the_litres_left(number: int) -> None:
    """It is not narrower than honest."""
    told, truth = half_used(number, True)

    assert told.p05 <= truth <= told.p95
