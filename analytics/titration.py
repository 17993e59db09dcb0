"""What people found out about the water: drop tests and the water company's report."""

from __future__ import annotations

import math
from typing import Final

import numpy as np

from analytics.belief import Belief, changed
from analytics.column.family import CurveFamily
from analytics.guess import outlook, raw_of
from analytics.normal import normal_cdf
from analytics.samples import DropTest, Floats, Point, UtilityReport

OPERATOR_DROPS: Final = 0.27
"""Error of the person who counts, in drops (common practice, no source)."""
SLIP: Final = 0.05
"""Chance that a whole drop too many or too few is written down."""
NONSENSE: Final = 2e-3
"""Chance that a count says nothing at all."""
OWN_SHARE: Final = 0.4
"""Share of a report's spread that each figure has for itself; the rest all its figures share."""
CALCIUM_SD: Final = 0.03
"""Spread of calcium's share of hardness about a report (no source)."""


def test_ln_likelihood(belief: Belief, family: CurveFamily | None, test: DropTest) -> Floats:
    """Log likelihood of every count of a drop test; none where nothing can be said of the point."""
    found = np.zeros(len(belief.ln_weight))
    if family is None and test.point is not Point.RAW:
        return found
    raw, left = raw_of(belief), left_at(belief, family, test.point)
    counts = (
        (test.hardness_mmol_l, test.hardness_step_mmol_l, raw.hardness_mmol_l, left[0]),
        (test.alkalinity_meq_l, test.alkalinity_step_meq_l, raw.alkalinity_meq_l, left[1]),
        (test.calcium_mmol_l, test.calcium_step_mmol_l, raw.calcium_mmol_l, left[2]),
    )
    for reading, step, in_raw, share in counts:
        if reading is not None:
            found = found + interval_ln_likelihood(in_raw * share, reading, step)
    return found


def left_at(
    belief: Belief, family: CurveFamily | None, point: Point
) -> tuple[Floats, Floats, Floats]:
    """Shares of raw hardness, alkalinity and calcium that are left where the sample was taken."""
    if point is Point.RAW or family is None:
        whole = np.ones(len(belief.ln_weight))
        return whole, whole, whole
    now = outlook(belief, family)
    bypass = np.zeros_like(now.bypass) if point is Point.TREATED else now.bypass
    behind = (now.behind.hardness, now.behind.alkalinity, now.behind.calcium)
    hardness, alkalinity, calcium = (bypass + (1.0 - bypass) * share for share in behind)
    return hardness, alkalinity, calcium


def interval_ln_likelihood(truth: Floats, reading: float, step: float) -> Floats:
    """Log probability of this count: the truth lies in (reading - step, reading], blurred by the
    operator's error, with a small chance of a slip by one drop and a smaller one of nonsense.

    A count of none stands for whatever gives no colour: all up to the first half drop.
    """
    sd = OPERATOR_DROPS * step

    def within(shift: float) -> Floats:
        upper = normal_cdf((reading + shift - truth) / sd)
        if reading + shift <= 0.01 * step:
            return upper
        return np.asarray(upper - normal_cdf((reading + shift - step - truth) / sd))

    found = (1.0 - SLIP) * within(0.0) + 0.5 * SLIP * (within(step) + within(-step))
    return np.log(found + NONSENSE)


def first_raw_test(belief: Belief, test: DropTest, rng: np.random.Generator) -> Belief:
    """The first count of raw water: guesses are drawn from what it leaves possible."""
    n = len(belief.ln_weight)

    def drawn(reading: float, step: float) -> Floats:
        truth = reading - step * (rng.random(n) + OPERATOR_DROPS * rng.standard_normal(n))
        return np.log(np.maximum(truth, 0.05 * step))

    columns = {}
    hardness = belief.cloud["ec"] + belief.cloud["hard"]
    if test.hardness_mmol_l is not None:
        hardness = drawn(test.hardness_mmol_l, test.hardness_step_mmol_l)
        columns["hard"] = hardness - belief.cloud["ec"]
    if test.alkalinity_meq_l is not None:
        alkalinity = drawn(test.alkalinity_meq_l, test.alkalinity_step_meq_l)
        columns["ratio"] = alkalinity - math.log(2.0) - hardness
    known = test.hardness_mmol_l is not None
    return changed(belief, columns, raw_known=belief.raw_known or known)


def first_report(belief: Belief, report: UtilityReport, rng: np.random.Generator) -> Belief:
    """The first that is known of the raw water: guesses are drawn about what is stated."""
    n = len(belief.ln_weight)
    total, share = stated(report)
    own = OWN_SHARE * report.relative_sd
    common = math.sqrt(1.0 - OWN_SHARE**2) * report.relative_sd * rng.standard_normal(n)
    columns = {}
    hardness = belief.cloud["ec"] + belief.cloud["hard"]
    if total:
        hardness = math.log(total) + common + own * rng.standard_normal(n)
        columns["hard"] = hardness - belief.cloud["ec"]
    if report.alkalinity_meq_l:
        alkalinity = math.log(report.alkalinity_meq_l) + common + own * rng.standard_normal(n)
        columns["ratio"] = alkalinity - math.log(2.0) - hardness
    if share is not None:
        columns["calcium"] = np.clip(share + CALCIUM_SD * rng.standard_normal(n), 0.3, 0.99)
    return changed(belief, columns, raw_known=belief.raw_known or bool(total))


def stated(report: UtilityReport) -> tuple[float | None, float | None]:
    """Total hardness (mmol/L) and calcium's share, as far as a report states them."""
    calcium, magnesium = report.calcium_mmol_l, report.magnesium_mmol_l
    total, share = report.hardness_mmol_l, None
    if calcium is not None and magnesium is not None and calcium + magnesium > 0.0:
        total = calcium + magnesium if total is None else total
        share = calcium / (calcium + magnesium)
    elif calcium is not None and total:
        share = min(calcium / total, 1.0)
    return total, share


def report_ln_likelihood(belief: Belief, report: UtilityReport) -> Floats:
    """Log likelihood of what the water company states for a year."""
    cloud = belief.cloud
    hardness = cloud["ec"] + cloud["hard"]
    total, share = stated(report)
    found = np.zeros(len(hardness))
    if total:
        found = found - 0.5 * ((hardness - math.log(total)) / report.relative_sd) ** 2
    if report.alkalinity_meq_l and total:
        there = math.log(report.alkalinity_meq_l / (2.0 * total))
        own = math.sqrt(2.0) * OWN_SHARE * report.relative_sd
        found = found - 0.5 * ((cloud["ratio"] - there) / own) ** 2
    if share is not None:
        found = found - 0.5 * ((cloud["calcium"] - share) / CALCIUM_SD) ** 2
    return found
