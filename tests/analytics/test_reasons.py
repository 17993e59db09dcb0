"""What would sharpen the figure: the promise is kept when the thing is done, on average."""

from __future__ import annotations

import math
from functools import cache

import msgspec
import numpy as np
import pytest

from analytics.bed import exchanges
from analytics.belief import Belief, left_of, shares
from analytics.column.family import CurveFamily
from analytics.contradiction import weigh_test
from analytics.guess import raw_of
from analytics.look import stood
from analytics.reasons import STEP_MEQ_L, STEP_MMOL_L, Narrowing, narrowings
from analytics.samples import DAY_MS, DropTest, Floats, Point
from analytics.setup import CapacityKind, LineSetup
from analytics.titration import OPERATOR_DROPS, left_at
from analytics.weigh import Weighing, start_weighing, weigh
from tests.analytics.test_estimator_evidence import FITTED, LOCAL, REPORT, hourly
from tests.makers import DH, MONDAY_MS, hydrogen_line

pytestmark = pytest.mark.timeout(120)  # the first to ask for a water waits for its curves

LINES = {
    "sodium, late": (
        hydrogen_line(
            medium="sodium", capacity_kind=CapacityKind.TOTAL, bypass=0.0, inlet_probe=False
        ),
        7,
    ),
    "hydrogen, no probes": (
        hydrogen_line(outlet_probe=False, inlet_probe=False, capacity_mmol=4500.0 * DH),
        10,
    ),
    "hydrogen, one probe": (hydrogen_line(inlet_probe=False, capacity_mmol=6000.0 * DH), 8),
}
TRIALS = 60


@cache
def weighed(name: str) -> Weighing:
    """The line after its days, without a drop test so far."""
    line, days = LINES[name]
    until = MONDAY_MS + days * DAY_MS
    draws = hourly(days, outlet=560.0 if line.medium == "sodium" else 330.0)
    return weigh(line, LOCAL, 11, start_weighing(line, 11), draws, (FITTED, REPORT), until)[0]


def litres_left(belief: Belief) -> Floats:
    return np.asarray(np.maximum(left_of(belief), 0.0) * np.exp(-belief.cloud["k"]))


def spread(belief: Belief) -> float:
    """Standard deviation of litres left."""
    left, weights = litres_left(belief), shares(belief)
    return math.sqrt(float(weights @ (left - weights @ left) ** 2))


def best_test(line: LineSetup, belief: Belief, family: CurveFamily | None) -> Narrowing:
    return next(n for n in narrowings(line, belief, family) if n.what == "drop-test")


def test_of(asked: Narrowing, told: float) -> DropTest:
    """The drop test that was named, with this count."""
    name = {
        "total": "hardness_mmol_l",
        "alkalinity": "alkalinity_meq_l",
        "calcium": "calcium_mmol_l",
    }[asked.kind]
    point = Point(asked.point)
    return DropTest(at_ms=MONDAY_MS, event_id="t", point=point, **{name: told})  # type: ignore[arg-type]


test_of.__test__ = False  # type: ignore[attr-defined]


def counted(
    belief: Belief, family: CurveFamily | None, asked: Narrowing, rng: np.random.Generator
) -> float:
    """The count that a person would write down if a guess drawn by its weight were the truth."""
    place = rng.choice(len(belief.ln_weight), p=shares(belief))
    hardness, alkalinity, calcium = left_at(belief, family, Point(asked.point))
    raw = raw_of(belief)
    truth, step = {
        "total": (raw.hardness_mmol_l * hardness, STEP_MMOL_L),
        "alkalinity": (raw.alkalinity_meq_l * alkalinity, STEP_MEQ_L),
        "calcium": (raw.calcium_mmol_l * calcium, STEP_MMOL_L),
    }[asked.kind]
    return step * max(math.ceil(truth[place] / step + OPERATOR_DROPS * rng.standard_normal()), 0)


@pytest.mark.parametrize("name", LINES)
def test_doing_the_named_drop_test_narrows_by_about_what_was_promised(name: str) -> None:
    """The named test is done many times, each time with another guess for the truth: the spread of
    litres left shrinks on average by about the promised share."""
    line, _ = LINES[name]
    belief, family = stood(line, weighed(name).belief)
    asked = best_test(line, belief, family if exchanges(line.medium) else None)
    rng = np.random.default_rng(17)
    before, variances = spread(belief), []
    for _ in range(TRIALS):
        test = test_of(asked, counted(belief, family, asked, rng))
        variances.append(spread(weigh_test(belief, family, test, rng)) ** 2)
    kept = 1.0 - math.sqrt(float(np.mean(variances))) / before

    assert asked.share > 0.02
    assert kept == pytest.approx(asked.share, abs=0.4 * asked.share + 0.03)


def test_an_unneeded_test_is_not_promised_to_help() -> None:
    """Just after raw water was tested to a drop, a second test of it is not named first."""
    line, _ = LINES["hydrogen, no probes"]
    tests = [
        DropTest(
            at_ms=MONDAY_MS + 9 * DAY_MS + n * 60_000,
            event_id=f"r{n}",
            point=Point.RAW,
            hardness_mmol_l=14 * DH,
            alkalinity_meq_l=20 * DH,
        )
        for n in range(3)
    ]
    until = MONDAY_MS + 10 * DAY_MS
    facts = (FITTED, REPORT, *tests)
    state, _ = weigh(line, LOCAL, 11, start_weighing(line, 11), hourly(10), facts, until)
    belief, family = stood(line, state.belief)
    plain, family_before = stood(line, weighed("hydrogen, no probes").belief)

    def raw_share(of: Belief, curves: CurveFamily | None) -> float:
        return max((n.share for n in narrowings(line, of, curves) if n.point == "raw"), default=0.0)

    assert raw_share(belief, family) <= raw_share(plain, family_before)


def test_what_is_named_suits_the_medium() -> None:
    """Sodium late in life: a total-hardness test of the machine's water; a line with one probe is
    never promised a third."""
    late = weighed("sodium, late")
    line, _ = LINES["sodium, late"]
    belief, family = stood(line, late.belief)
    named = best_test(line, belief, family)
    pair = msgspec.structs.replace(line, inlet_probe=True)

    assert (named.point, named.kind) in (("blended", "total"), ("blended", "calcium"))
    assert all(n.what != "second-probe" for n in narrowings(pair, belief, family))
