"""Guesses tried again on the whole past go where the readings say the front is."""

from __future__ import annotations

import math

import msgspec
import numpy as np

from analytics.baseline import known_gain
from analytics.bed import Stand, family_of
from analytics.belief import Belief, begin, changed
from analytics.column.family import CurveFamily
from analytics.guess import ln_outlet_over_raw, outlook, with_lives
from analytics.past import MOST, Past, with_look
from analytics.retrial import can_be_tried, tried_again
from analytics.setup import CapacityKind, LineSetup

LINE = LineSetup(
    line_id="bar",
    medium="hydrogen",
    capacity_mmol=5000.0,
    capacity_kind=CapacityKind.CARBONATE,
    inlet_probe=True,
    pulses_per_l=600.0,
)
STAND = Stand.near(2.5, 3.8, 0.8, 600.0)
TRUE_LN = -0.2


def curves() -> CurveFamily:
    """The curves of this line's water."""
    return family_of("hydrogen", STAND, 0.2)


def guesses(passed_l: float) -> Belief:
    """A cartridge fitted new, so many litres on, before any look; the water is known well."""
    belief = begin(LINE, 5)
    n = len(belief.ln_weight)
    rng = np.random.default_rng(2)
    water = {
        "ec": np.full(n, math.log(600.0)),
        "hard": math.log(2.5 / 600.0) + 0.01 * rng.standard_normal(n),
        "ratio": math.log(0.76) + 0.01 * rng.standard_normal(n),
        "expected": np.zeros(n),
    }
    columns = water | known_gain(n, 0.01, 0.004)
    belief = changed(belief, columns, ec_known=True, raw_known=True, started_unknown=False)
    belief = with_lives(changed(belief, {"life": np.zeros(n)}), LINE, curves())
    life = passed_l / belief.cloud["a_life"]
    return msgspec.structs.replace(changed(belief, {"life": life}), litres=passed_l)


def ratio_at(litres: float) -> float:
    """What both probes say where the bed holds a fifth less than its plate (ln 0.82)."""
    belief = guesses(litres)
    n = len(belief.ln_weight)
    truth = {
        "capacity": np.full(n, TRUE_LN),
        "hard": np.full(n, math.log(2.5 / 600.0)),
        "ratio": np.full(n, math.log(0.76)),
        "depth": np.zeros(n),
        "wave": np.zeros(n),
        "astray": np.zeros(n),
        "k": np.zeros(n),
        "shape": np.full(n, 8.0),
    }
    belief = with_lives(changed(belief, truth), LINE, curves())
    belief = changed(belief, {"life": litres / belief.cloud["a_life"]})
    return 0.01 + float(ln_outlet_over_raw(belief, curves(), outlook(belief, curves()))[0])


def whole_l() -> float:
    """Litres to the end of that bed."""
    belief = guesses(1.0)
    return float(np.median(belief.cloud["a_life"] * np.exp(TRUE_LN - belief.cloud["capacity"])))


def looked(until: float) -> Belief:
    """The belief with a look at each fiftieth of that bed's life up to a share of it."""
    whole = whole_l()
    belief = guesses(until * whole)
    past = Past(whole=True, water=True, gain=0.01, gain_var=0.004**2)
    for share in np.arange(0.02, until + 0.001, 0.02):
        litres = float(share * whole)
        past = with_look(past, 1.0, litres, math.log(600.0), ratio_at(litres))
    return msgspec.structs.replace(belief, past=past)


def tried(belief: Belief, times: int) -> Belief:
    """The belief after several rounds, each with its own place in the numbers of chance."""
    for step in range(times):
        belief = msgspec.structs.replace(belief, steps=step + 1)
        belief = tried_again(belief, LINE, curves(), 5)
    return belief


def test_a_front_in_the_past_draws_guesses_to_it() -> None:
    """A bed that holds a fifth less than its plate is known for one at 96 % of its life, although
    nothing but the past says so: half of the guesses go there within ten rounds."""
    before = looked(0.96)
    after = tried(before, 10)
    off = np.abs(after.cloud["life"] - 0.96)

    assert abs(float(np.median(after.cloud["life"])) - 0.96) < 0.03
    assert np.mean(off < 0.04) > 2.0 * np.mean(np.abs(before.cloud["life"] - 0.96) < 0.04)


def test_without_a_front_capacity_stays_as_unknown_as_it_was() -> None:
    """At two fifths of its life nothing tells capacity: its spread is the prior's."""
    before = looked(0.4)
    after = tried(before, 3)

    assert 0.85 < after.cloud["capacity"].std() / before.cloud["capacity"].std() < 1.15


def test_litres_stay_passed() -> None:
    """Other capacity, same litres: share of life times litres a life comes through."""
    before = looked(0.96)
    after = tried(before, 3)
    passed = after.cloud["life"] * after.cloud["a_life"]

    assert np.allclose(passed, before.litres, rtol=0.01)


def test_the_past_stays_short_and_keeps_its_length() -> None:
    """Old looks are put together in twos; days and the last look come through."""
    past = Past(whole=True)
    for day in range(500):
        past = with_look(past, 1.0, 10.0 * day, 6.4, -0.6 + 1e-3 * day)

    assert len(past.days) <= MOST
    assert 495.0 < past.days.sum() <= 500.0
    assert (past.litres[-1], past.ratio[-1]) == (4990.0, -0.6 + 0.499)
    assert np.all(np.diff(past.litres) > 0.0)


def test_a_past_with_something_left_out_is_not_tried_on() -> None:
    """Where a test contradicted or the start is unknown, guesses are not offered other values."""
    belief = looked(0.2)
    past = msgspec.structs.replace(belief.past, whole=False)

    assert can_be_tried(belief, LINE)
    assert not can_be_tried(msgspec.structs.replace(belief, past=past), LINE)
    assert not can_be_tried(msgspec.structs.replace(belief, started_unknown=True), LINE)
