"""What would sharpen the figure most: worked out from the guesses themselves, as data.

For each thing that could be done now, the guesses say what it would show and what would then be
left of the range: the variance of litres left within one outcome, averaged over the outcomes.
"""

from __future__ import annotations

import math
from typing import Final

import msgspec
import numpy as np

from analytics.belief import Belief, left_of, shares
from analytics.column.family import CurveFamily
from analytics.guess import raw_of
from analytics.normal import normal_cdf
from analytics.samples import Floats, Point, Sharpener, Spread
from analytics.setup import LineSetup
from analytics.titration import OPERATOR_DROPS, left_at

STEP_MMOL_L: Final = 0.178326
STEP_MEQ_L: Final = 0.356652
"""One drop of a kit that counts in dH."""
MOST_DROPS: Final = 60
BANDS: Final = 12
"""Bands of equal weight that stand for an exact measurement of a quantity."""
WORTH: Final = 0.015
"""A narrowing by less than this share is not worth telling."""
SHOWN: Final = 3


class Narrowing(msgspec.Struct, frozen=True, kw_only=True):
    """By what share something would narrow the range of litres left."""

    what: str
    share: float
    point: str = ""
    kind: str = ""


def narrowings(
    line: LineSetup, belief: Belief, family: CurveFamily | None
) -> tuple[Narrowing, ...]:
    """Everything worth doing now, best first."""
    left = np.maximum(left_of(belief), 0.0) * np.exp(-belief.cloud["k"])
    if not math.isfinite(float(left[0])):
        return ()
    weights = shares(belief)
    found = _tests(belief, family, left, weights)
    if line.outlet_probe and not line.inlet_probe and family is not None:
        known = _by_band(belief.cloud["ec"], left, weights)
        found.append(Narrowing(what="second-probe", share=known))
    if line.flow_meter:
        found.append(Narrowing(what="jug-test", share=_by_band(belief.cloud["k"], left, weights)))
    worth = [each for each in found if each.share >= WORTH]
    return tuple(sorted(worth, key=lambda each: -each.share)[:SHOWN])


def sharpeners(found: tuple[Narrowing, ...], days: Spread | None) -> tuple[Sharpener, ...]:
    """The same in days: by how much the range of days left should narrow."""
    if days is None:
        return ()
    wide = days.p95 - days.p05
    return tuple(
        Sharpener(what=each.what, days=each.share * wide, point=each.point, kind=each.kind)
        for each in found
    )


def _tests(
    belief: Belief, family: CurveFamily | None, left: Floats, weights: Floats
) -> list[Narrowing]:
    raw = raw_of(belief)
    points = [Point.RAW] if family is None else [Point.RAW, Point.BLENDED]
    found = []
    for point in points:
        hardness, alkalinity, calcium = left_at(belief, family, point)
        kinds = (
            ("total", raw.hardness_mmol_l * hardness, STEP_MMOL_L),
            ("alkalinity", raw.alkalinity_meq_l * alkalinity, STEP_MEQ_L),
            ("calcium", raw.calcium_mmol_l * calcium, STEP_MMOL_L),
        )
        for kind, truth, step in kinds:
            share = _by_count(truth / step, left, weights)
            found.append(Narrowing(what="drop-test", share=share, point=point.value, kind=kind))
    return found


def _by_count(drops: Floats, left: Floats, weights: Floats) -> float:
    """Narrowing by a count of drops, with the error of the person who counts."""
    low = max(int(np.floor(drops.min())) - 1, 0)
    high = min(int(np.ceil(drops.max())) + 2, low + MOST_DROPS)
    edges = np.arange(low, high + 1, dtype=np.float64)
    under = normal_cdf((edges[:, None] - drops[None, :]) / OPERATOR_DROPS)
    under[0], under[-1] = 0.0, 1.0
    return _narrowing(np.diff(under, axis=0), left, weights)


def _by_band(values: Floats, left: Floats, weights: Floats) -> float:
    """Narrowing by knowing a quantity well: bands of equal weight."""
    order = np.argsort(values, kind="stable")
    place = np.empty(len(values), dtype=np.int64)
    running = np.cumsum(weights[order])
    place[order] = np.minimum((running / running[-1] * BANDS).astype(np.int64), BANDS - 1)
    inside = (place[None, :] == np.arange(BANDS)[:, None]).astype(np.float64)
    return _narrowing(inside, left, weights)


def _narrowing(outcome: Floats, left: Floats, weights: Floats) -> float:
    """1 - sqrt(mean variance within outcomes / variance); `outcome[i]` is the chance of outcome i
    for every guess."""
    middle = float(weights @ left)
    whole = float(weights @ (left - middle) ** 2)
    if whole <= 0.0:
        return 0.0
    joint = outcome * weights
    mass = np.maximum(joint.sum(axis=1), 1e-300)
    mean = joint @ (left - middle) / mass
    within = whole - float(np.sum(mass * mean**2))
    return 1.0 - math.sqrt(min(max(within / whole, 0.0), 1.0))
