"""Drop tests that contradict what is believed: one of the two is wrong, and both stay possible.

Half of the guesses go on as if the test had not been made, half try what would explain it; the
next test or the probes decide. The one that is likelier to be wrong is named.
"""

from __future__ import annotations

import math
from typing import Final

import msgspec
import numpy as np

from analytics.belief import DROP_TESTS, Belief, changed, restarted, reweigh, shares, spread_of
from analytics.column.family import CurveFamily
from analytics.guess import raw_of
from analytics.normal import normal_cdf
from analytics.past import of_other_water
from analytics.samples import DropTest, Floats, Point
from analytics.tested import Tested
from analytics.titration import (
    OPERATOR_DROPS,
    first_raw_test,
    left_at,
    report_ln_likelihood,
    test_ln_likelihood,
)

SURPRISING: Final = 0.004
"""A count whose tail is less probable than this, one drop forgiven, contradicts."""
BELIEVED: Final = 0.5
"""Chance that a contradicting test is right, where nothing else speaks (no source)."""
BORNE_OUT: Final = 0.95
"""The same where an earlier test that was doubted says the same, or where raw water has changed
since the tests that it contradicts, as two counts at once say, too."""
AGREE_DROPS: Final = 2.0
"""Counts within so many drops agree."""
KEPT: Final = 8
USUAL_PER_US_CM: Final = math.log(1.0 / 230.0)
USUAL_SD: Final = 0.4
"""Hardness (mmol/L) for each uS/cm of raw water, ln: what is usual, before any test."""
PLAINER: Final = 0.5
"""A raw hardness so many usual spreads nearer to what its conductivity makes usual is likelier."""

KINDS: Final = ("total", "alkalinity", "calcium")


def weigh_test(
    belief: Belief, family: CurveFamily | None, test: DropTest, rng: np.random.Generator
) -> Belief:
    """Weigh a drop test; where it contradicts, keep both possibilities and name the doubtful."""
    if test.point is not Point.RAW and family is None:
        return belief
    counts = _counts(belief, family, test)
    first = test.point is Point.RAW and not belief.raw_known
    odd = () if first else tuple(c.kind for c, tail in counts if tail < SURPRISING)
    tested = tuple(c for c, _ in counts)
    again = bool(odd) and all(_borne_out(belief, c) for c in tested if c.kind in odd)
    belief = _remember(belief, tested, () if again else odd)
    other = test.point is Point.RAW and (len(odd) > 1 or not belief.past.water)
    right = BORNE_OUT if again or other else BELIEVED
    if first:
        return first_raw_test(belief, test, rng)
    if not odd and test.point is Point.RAW and not _raw_seen(belief):
        return _beside_report(belief, test, rng)
    if not odd:
        return reweigh(belief, test_ln_likelihood(belief, family, test), DROP_TESTS)
    if test.point is Point.RAW:
        belief = msgspec.structs.replace(belief, past=of_other_water(restarted(belief)))
        return _either(belief, first_raw_test(belief, test, rng), family, test, rng, right)
    belief = msgspec.structs.replace(belief, past=msgspec.structs.replace(belief.past, whole=False))
    softer = any(c.told < c.low for c, _ in counts if c.kind in odd)
    return _either(belief, _explained(belief, softer, rng), family, test, rng, right)


def _raw_seen(belief: Belief) -> bool:
    """Whether more than a report has told of the raw water already."""
    looked = belief.depth_known or math.isfinite(float(belief.cloud["expected"][0]))
    return belief.raw_tested or looked or belief.report is None


def _beside_report(belief: Belief, test: DropTest, rng: np.random.Generator) -> Belief:
    """The first count tells more than the report: guesses are drawn from it and weighed by that,
    which leaves many also where the two are far apart."""
    belief = msgspec.structs.replace(first_raw_test(belief, test, rng), raw_tested=True)
    if belief.report is None:
        return belief
    return reweigh(belief, report_ln_likelihood(belief, belief.report), DROP_TESTS)


def _counts(
    belief: Belief, family: CurveFamily | None, test: DropTest
) -> tuple[tuple[Tested, float], ...]:
    """Every count of a test beside what was expected, with the tail it lies in."""
    raw, left, weights = raw_of(belief), left_at(belief, family, test.point), shares(belief)
    given = (
        (test.hardness_mmol_l, test.hardness_step_mmol_l, raw.hardness_mmol_l * left[0]),
        (test.alkalinity_meq_l, test.alkalinity_step_meq_l, raw.alkalinity_meq_l * left[1]),
        (test.calcium_mmol_l, test.calcium_step_mmol_l, raw.calcium_mmol_l * left[2]),
    )
    found = []
    for kind, (told, step, truth) in zip(KINDS, given, strict=True):
        if told is None:
            continue
        spread = spread_of(truth, weights)
        one = Tested(
            event_id=test.event_id,
            at_ms=test.at_ms,
            point=test.point.value,
            kind=kind,
            told=told,
            step=step,
            low=spread.p05,
            high=spread.p95,
        )
        found.append((one, _tail(truth, weights, told, step)))
    return tuple(found)


def _tail(truth: Floats, weights: Floats, told: float, step: float) -> float:
    """Chance of a count at least as far out, one drop forgiven."""
    sd = OPERATOR_DROPS * step
    at_most = float(weights @ normal_cdf((told + step - truth) / sd))
    at_least = float(weights @ normal_cdf((truth - told + 2.0 * step) / sd))
    return min(at_most, at_least)


def _remember(belief: Belief, tested: tuple[Tested, ...], odd: tuple[str, ...]) -> Belief:
    """Keep the counts; doubt the likelier wrong one, and clear one that a later count bears out."""
    kept = list(belief.tested)
    for new in tested:
        same = [place for place, t in enumerate(kept) if (t.point, t.kind) == (new.point, new.kind)]
        doubted = new.kind in odd
        if not doubted:
            for place in same:
                if kept[place].doubted and agree(kept[place], new):
                    kept[place] = msgspec.structs.replace(kept[place], doubted=False)
        elif same and _earlier_is_odder(belief, kept[same[-1]], new):
            kept[same[-1]] = msgspec.structs.replace(kept[same[-1]], doubted=True)
            doubted = False
        kept.append(msgspec.structs.replace(new, doubted=doubted))
    return msgspec.structs.replace(belief, tested=tuple(kept[-KEPT:]))


def _borne_out(belief: Belief, new: Tested) -> bool:
    """Whether an earlier test that was doubted says the same."""
    return any(
        t.doubted and (t.point, t.kind) == (new.point, new.kind) and agree(t, new)
        for t in belief.tested
    )


def agree(first: Tested, second: Tested) -> bool:
    """Whether two counts of one kind at one point say the same."""
    return abs(first.told - second.told) <= AGREE_DROPS * max(first.step, second.step) + 1e-9


def _earlier_is_odder(belief: Belief, earlier: Tested, new: Tested) -> bool:
    """Whether of two contradicting raw hardnesses the earlier fits its conductivity worse."""
    if new.point != Point.RAW.value or new.kind != "total" or not belief.ec_known:
        return False
    ec = float(shares(belief) @ belief.cloud["ec"])

    def off(told: float) -> float:
        return abs(math.log(max(told, 0.05)) - ec - USUAL_PER_US_CM) / USUAL_SD

    return off(earlier.told) > off(new.told) + PLAINER


def _explained(belief: Belief, softer: bool, rng: np.random.Generator) -> Belief:
    """Guesses at what would explain a test of the blended water: another bypass, a bed used
    otherwise than counted, and, where the water is softer than it can be, a new cartridge."""
    cloud, n = belief.cloud, len(belief.ln_weight)
    which = rng.random(n)
    bypass = np.clip(cloud["bypass"] + rng.uniform(-0.35, 0.35, n), 0.0, 0.9)
    life = np.where(softer, rng.uniform(0.0, 0.05, n), rng.uniform(0.0, 1.4, n))
    return changed(
        belief,
        {
            "bypass": np.where(which < 0.5, bypass, cloud["bypass"]),
            "life": np.where(which >= 0.5, life, cloud["life"]),
        },
    )


def _either(
    belief: Belief,
    explained: Belief,
    family: CurveFamily | None,
    test: DropTest,
    rng: np.random.Generator,
    right: float,
) -> Belief:
    """Some guesses as they were, the others explaining the test and weighed by it, so that
    together the explanations carry the chance that the test is `right`."""
    tries = rng.random(len(belief.ln_weight)) < right
    columns = {
        name: np.where(tries, explained.cloud[name], values)
        for name, values in belief.cloud.items()
    }
    mixed = changed(belief, columns)
    told = np.where(tries, test_ln_likelihood(mixed, family, test), 0.0)
    mass = np.exp(mixed.ln_weight + told - np.max(mixed.ln_weight + told))
    own, other = float(mass[tries].sum()), float(mass[~tries].sum())
    if own <= 0.0 or other <= 0.0:
        return belief
    balance = math.log(other / own) + math.log(right / (1.0 - right))
    return reweigh(mixed, told + np.where(tries, balance, 0.0), DROP_TESTS)
