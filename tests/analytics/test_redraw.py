"""Guesses drawn anew keep what is certain: litres that passed, and readings that were explained."""

from __future__ import annotations

import math

import msgspec
import numpy as np
import pytest

from analytics.bed import Stand, family_of
from analytics.belief import Belief, begin, changed
from analytics.column.family import CurveFamily
from analytics.guess import ln_outlet_over_raw, outlook, with_lives
from analytics.redraw import drawn_anew, followed
from analytics.setup import CapacityKind, LineSetup

LINE = LineSetup(
    line_id="bar",
    medium="hydrogen",
    capacity_mmol=5000.0,
    capacity_kind=CapacityKind.CARBONATE,
    bypass=0.2,
    inlet_probe=True,
    pulses_per_l=600.0,
)
STAND = Stand.near(2.5, 3.8, 0.8, 600.0)
PASSED_L = 600.0
RATIO = -0.6


def family(stand: Stand = STAND) -> CurveFamily:
    """The curves of this line's water."""
    return family_of("hydrogen", stand, 0.2)


def used() -> Belief:
    """A cartridge fitted new, so many litres on, with few guesses that carry the weight."""
    belief = begin(LINE, 7)
    n = len(belief.ln_weight)
    water = {
        "ec": np.full(n, math.log(600.0)),
        "ec_var": np.full(n, 1e-8),
        "hard": math.log(2.5 / 600.0) + 0.02 * np.random.default_rng(1).standard_normal(n),
        "ratio": math.log(0.76) + 0.03 * np.random.default_rng(2).standard_normal(n),
    }
    belief = changed(belief, water, ec_known=True, raw_known=True, started_unknown=False)
    belief = with_lives(changed(belief, {"life": np.zeros(n)}), LINE, family())
    belief = changed(belief, {"life": PASSED_L / belief.cloud["a_life"]})
    expected = ln_outlet_over_raw(belief, family(), outlook(belief, family()))
    gain = {"gain": RATIO - expected, "free_var": np.full(n, 0.03**2), "expected": expected}
    belief = changed(belief, gain)
    return msgspec.structs.replace(belief, ln_weight=-3.0 * belief.cloud["bypass"] / 0.02)


def explained(belief: Belief, curves: CurveFamily) -> float:
    """The farthest any guess is from the reading that all of them explained."""
    expected = ln_outlet_over_raw(belief, curves, outlook(belief, curves))
    return float(np.max(np.abs(expected + belief.cloud["gain"] - RATIO)))


def test_litres_that_passed_stay_passed() -> None:
    """The used share of life moves against the litres of a whole life."""
    fresh = drawn_anew(used(), LINE, family(), 7)

    assert fresh.cloud["life"].std() > 0.01
    assert fresh.cloud["life"] * fresh.cloud["a_life"] == pytest.approx(PASSED_L, rel=0.02)


def test_readings_that_were_explained_stay_explained() -> None:
    """Gain takes over what the modelled ratio moves by, for every guess."""
    fresh = drawn_anew(used(), LINE, family(), 7)

    assert explained(fresh, family()) < 1e-9


def test_guesses_stay_apart_as_they_were() -> None:
    """Noise hangs together as the guesses do: weighted spread and mean come through."""
    before = used()
    weight = np.exp(before.ln_weight - before.ln_weight.max())
    weight /= weight.sum()
    mean = float(weight @ before.cloud["bypass"])
    spread = math.sqrt(float(weight @ (before.cloud["bypass"] - mean) ** 2))
    after = drawn_anew(before, LINE, family(), 7).cloud["bypass"]

    assert after.mean() == pytest.approx(mean, abs=0.25 * spread)
    assert after.std() == pytest.approx(spread, rel=0.25)


def test_enough_guesses_are_left_alone() -> None:
    """Nothing is drawn while the weight lies on many."""
    belief = msgspec.structs.replace(used(), ln_weight=np.zeros(len(used().ln_weight)))

    assert drawn_anew(belief, LINE, family(), 7) is belief


def test_other_curves_for_the_same_water_are_no_front() -> None:
    """The baseline stays where the readings have it when curves are drawn anew."""
    other = family(Stand.near(2.9, 4.4, 0.8, 680.0))
    after = followed(used(), LINE, family(), other)

    assert explained(after, other) < 1e-9
