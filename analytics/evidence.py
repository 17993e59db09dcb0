"""What time, litres and conductivity do to the guesses."""

from __future__ import annotations

import math
from typing import Final

import msgspec
import numpy as np

from analytics.baseline import (
    CURVE_PACE,
    FAINT_CURVE_PACE,
    STEADY,
    Cloud,
    astray_a_life,
    corrected,
    elapse,
    less_known,
    paced,
)
from analytics.belief import CONDUCTIVITY, DEPTH, Belief, chance, changed, reweigh, shares
from analytics.chemistry.temperature import f25_where_defined
from analytics.column.family import CurveFamily
from analytics.guess import ln_outlet_over_raw, outlook, taken_out_us_cm
from analytics.past import Past, with_look
from analytics.samples import Draws, Floats
from analytics.setup import LineSetup

EC_A_DAY: Final = (0.004, 0.02)
"""Daily random step of raw conductivity where no inlet probe sees it: at rest, restless."""
YOUNG: Final = 0.06
YOUNG_SD: Final = 0.008
"""Share of life in which a bed is rinsed, and how far the modelled ratio may be off in it: what
stands in a new bed hangs on how it was stored and flushed (no source)."""
CURVE_A_LIFE: Final = 0.001
"""How far the modelled ratio goes astray over a life, as a random walk."""
FAINT_CURVE_A_LIFE: Final = 0.008
"""The same for media that swap one cation for another, whose sign hangs on the anions."""
CURVE_A_STEP: Final = 0.4
"""Error of what the modelled ratio moves from look to look, relative."""
CURVE_A_MOVE: Final = (0.02, 0.10)
"""How far the ratio goes astray for each unit that ln of raw conductivity moves: in water that
keeps its make-up, and in water that does not."""
LONE_NOISE: Final = 0.008
"""Error of one probe's look that more readings do not lessen: raw water's own ups and downs within
days are in it."""
DRY_US_CM: Final = 15.0
"""Readings below this are of air (common practice, no source)."""
SHORT_US_CM: Final = 20_000.0
"""No tap water conducts so well: the cell is shorted (common practice, no source)."""
STANDS_STILL: Final = 1.2e-3
"""A probe that varies by less than this over several draws is stuck: rounding and the reference to
25 C alone move it."""
LEAST_DRAWS: Final = 6
FREEDOM: Final = 12.0
"""Degrees of freedom of a look's error."""
BOUND: Final = 0.15
"""One look leaves at least this share of the guesses that carried the weight."""
FAR: Final = 3.5
"""A reading this many standard errors off says little more: it may be no reading at all."""


class Seen(msgspec.Struct, frozen=True, kw_only=True):
    """What the probes said: ln(EC25) of inlet and outlet, NaN where nothing counted."""

    inlet: float
    outlet: float

    @property
    def ratio(self) -> float:
        """ln(outlet / inlet)."""
        return self.outlet - self.inlet


def seen_in(draws: Draws) -> Seen:
    """What the probes said over some draws: median of ln(EC25), NaN where nothing counted.

    A cell that reads next to nothing is dry or open: no water that leaves a filter conducts less.
    One that reads more than any tap water is shorted, for however long.
    """
    inlet, outlet = (
        np.where(ec25 < SHORT_US_CM, ec25, np.nan)
        for ec25 in (draws.inlet_ec25_us_cm, draws.outlet_ec25_us_cm)
    )
    if _stands_still(outlet, draws.outlet_temp_c):
        outlet = np.full_like(outlet, np.nan)
    if _stands_still(inlet, draws.inlet_temp_c):
        inlet = np.full_like(inlet, np.nan)
    both = (inlet > DRY_US_CM) & (outlet > DRY_US_CM)
    if both.any():
        at_inlet = _ln_median(inlet[both])
        return Seen(inlet=at_inlet, outlet=at_inlet + _ln_median(outlet[both] / inlet[both], 0.0))
    return Seen(inlet=_ln_median(inlet), outlet=_ln_median(outlet))


def _stands_still(ec25: Floats, temp_c: Floats) -> bool:
    """Whether a probe gives one and the same figure draw after draw, as no live one does."""
    usable = np.isfinite(ec25) & np.isfinite(temp_c) & (ec25 > DRY_US_CM)
    if np.count_nonzero(usable) < LEAST_DRAWS:
        return False
    as_read = ec25[usable] / f25_where_defined(temp_c[usable])
    return bool(np.ptp(as_read) < STANDS_STILL * float(as_read[0]))


def _ln_median(values: Floats, least: float = DRY_US_CM) -> float:
    usable = values[np.isfinite(values) & (values > least)]
    return math.log(float(np.median(usable))) if len(usable) else math.nan


def drift(belief: Belief, line: LineSetup, days: float, lives: float, seed: int) -> Belief:
    """Let water and probes wander for this long, in which this share of a life passed."""
    if days <= 0.0:
        return belief
    rng, cloud = chance(seed, belief.steps, 2), belief.cloud
    if lives > 0.0 and not math.isfinite(float(cloud["expected"][0])):
        cloud = cloud | astray_a_life(cloud, min(lives / days, 0.1))
    moved, tried = elapse(cloud, days, min(lives / days, 0.1), rng, line.inlet_probe)
    if not line.inlet_probe:
        step = np.where(cloud["restless"] > 0.5, EC_A_DAY[1], EC_A_DAY[0])
        moved["ec_var"] = cloud["ec_var"] + step**2 * days
    return changed(
        belief,
        moved,
        ln_weight=belief.ln_weight + tried,
        walked_days=belief.walked_days + days,
        quiet_days=belief.quiet_days + days,
    )


def pass_litres(belief: Belief, litres: float) -> Belief:
    """Use the bed of every guess up by these litres."""
    if litres <= 0.0:
        return belief
    a_life = belief.cloud["a_life"]
    if not math.isfinite(float(a_life[0])):
        return msgspec.structs.replace(belief, litres=belief.litres + litres)
    life = np.minimum(belief.cloud["life"] + litres / np.maximum(a_life, 1e-6), 3.0)
    return changed(belief, {"life": life}, litres=belief.litres + litres)


def follow_inlet(belief: Belief, inlet: float) -> Belief:
    """Raw conductivity is what the inlet probe says; hardness goes with it, a little loosely."""
    cloud, n = belief.cloud, len(belief.ln_weight)
    if not belief.ec_known:
        # the hardness believed so far stays; only what it is per conductivity becomes known
        hard = cloud["hard"] + cloud["ec"] - inlet
        columns = {"ec": np.full(n, inlet), "ec_var": np.full(n, 1e-8), "hard": hard}
        return changed(belief, columns, ec_known=True)
    moved = inlet - _inlet_before(cloud)
    loose = 0.25 * max(abs(moved) - 0.01, 0.0)
    astray = walked_away(moved, cloud["wander"])
    columns = {"ec": inlet + cloud["film"]} | less_known(cloud, astray**2)
    return changed(belief, columns, loose=math.hypot(belief.loose, loose))


def walked_away(moved: float, wander: Floats) -> Floats:
    """Error of the ratio that comes with a move of ln(raw conductivity)."""
    steady, mixing = CURVE_A_MOVE
    return np.asarray(moved * np.where(wander < STEADY, steady, mixing))


class CurveError(msgspec.Struct, frozen=True, kw_only=True):
    """What the modelled ratio does not know: of its pace (relative), as a random walk over a life,
    and as a variance a life in a young bed, which is one up to `young_until`."""

    pace: float
    a_life: float
    young: float = YOUNG_SD**2 / YOUNG
    young_until: float = YOUNG


def curve_error(family: CurveFamily) -> CurveError:
    """Of weak-acid beds the model knows more than of those that swap one cation for another."""
    if family.per_alkalinity:
        return CurveError(pace=CURVE_PACE, a_life=CURVE_A_LIFE)
    return CurveError(pace=FAINT_CURVE_PACE, a_life=FAINT_CURVE_A_LIFE)


def _inlet_before(cloud: Cloud) -> float:
    """ln(EC25) that the inlet probe said at the last look."""
    bare = cloud["film"] == 0.0
    if bare.any():
        return float(np.median(cloud["ec"][bare]))
    return float(np.median(cloud["ec"] - cloud["film"]))


def see_pair(
    belief: Belief, family: CurveFamily, seen: Seen, life_passed: float, seed: int
) -> Belief:
    """Weigh outlet over inlet; `life_passed` is the share of life since the last look."""
    first = not belief.depth_known
    if first:
        belief = _first_pair(belief, family, seen, seed)
    cloud = belief.cloud
    expected = ln_outlet_over_raw(belief, family, outlook(belief, family))
    step = np.where(np.isfinite(cloud["expected"]), expected - cloud["expected"], 0.0)
    error = curve_error(family)
    cloud = cloud | paced(cloud, step, belief.quiet_days, error.pace)
    # one variance for all guesses: sharper forecasts of older beds must not speak for old age
    young = error.young if float(np.median(cloud["life"])) < error.young_until else 0.0
    before = cloud["gain_var"] + (error.a_life**2 + young) * life_passed
    off = seen.ratio - expected - cloud["gain"]
    variance = before + cloud["noise"] ** 2
    if not first:
        belief = reweigh(belief, _bounded(belief, long_tailed(off, variance)), CONDUCTIVITY)
    weight = nearness(off, variance) / variance
    columns = cloud | corrected(cloud, before, off, weight) | {"expected": expected}
    past = _looked(belief, seen)
    return changed(belief, columns, quiet_days=0.0, depth_known=True, past=past)


def _looked(belief: Belief, seen: Seen) -> Past:
    """The past with this look; before the first, what is known of gain by now."""
    past, days = belief.past, belief.quiet_days
    if not len(past.days):
        weights, cloud = shares(belief), belief.cloud
        gain = float(weights @ cloud["gain"])
        spread = float(weights @ (cloud["gain_var"] + (cloud["gain"] - gain) ** 2))
        past, days = msgspec.structs.replace(past, gain=gain, gain_var=spread), 0.0
    return with_look(past, days, belief.litres, seen.inlet, seen.ratio)


def _first_pair(belief: Belief, family: CurveFamily, seen: Seen, seed: int) -> Belief:
    """The first ratio of a cartridge: every guess takes the depth of the fall that fits it, as far
    as depths are likely, and is weighed by how likely that is."""
    now, cloud = outlook(belief, family), belief.cloud
    middle, sd = DEPTH
    flat = changed(belief, {"depth": np.full(len(cloud["depth"]), middle)})
    deeper = changed(belief, {"depth": np.full(len(cloud["depth"]), middle + sd)})
    expected = ln_outlet_over_raw(flat, family, now)
    by_sd = ln_outlet_over_raw(deeper, family, now) - expected
    known = cloud["gain_var"] + cloud["noise"] ** 2
    off, variance = seen.ratio - expected - cloud["gain"], known + by_sd**2
    belief = reweigh(belief, far_sighted(off, variance), CONDUCTIVITY)
    drawn = chance(seed, belief.steps, 9).standard_normal(len(off))
    near = nearness(off, variance)
    z = near * by_sd * off / variance + np.sqrt(1.0 - near * by_sd**2 / variance) * drawn
    return changed(belief, {"depth": middle + sd * z})


def see_outlet(belief: Belief, family: CurveFamily, outlet: float, life_passed: float) -> Belief:
    """Weigh one outlet probe alone: raw water, front and bypass are seen only together."""
    cloud = belief.cloud
    if not belief.ec_known:
        return _first_outlet(belief, family, outlet)
    ec_var, gain_var = cloud["ec_var"], cloud["gain_var"]
    expected = ln_outlet_over_raw(belief, family, outlook(belief, family))
    off = outlet - expected - cloud["ec"] - cloud["gain"]
    variance = ec_var + gain_var + LONE_NOISE**2 + _curve_var(cloud, family, expected, life_passed)
    belief = reweigh(belief, far_sighted(off, variance), CONDUCTIVITY)
    weight = nearness(off, variance) / variance
    to_ec = ec_var * weight
    columns = corrected(cloud, gain_var, off, weight) | {
        "ec": cloud["ec"] + to_ec * off,
        "ec_var": ec_var * (1.0 - to_ec),
        "expected": expected,
    }
    return changed(belief, columns)


def _curve_var(cloud: Cloud, family: CurveFamily, expected: Floats, life_passed: float) -> Floats:
    """Variance of the modelled ratio's error since the last look: some for the way along the curve,
    more where the curve itself moved."""
    step = np.where(np.isfinite(cloud["expected"]), expected - cloud["expected"], 0.0)
    astray = CURVE_A_LIFE if family.per_alkalinity else FAINT_CURVE_A_LIFE
    return np.asarray(astray**2 * life_passed + (CURVE_A_STEP * step) ** 2)


def _first_outlet(belief: Belief, family: CurveFamily, outlet: float) -> Belief:
    """The first outlet reading tells the raw conductivity of every guess: the outlet's and what
    the bed took, together. Hardness as believed so far stays."""
    cloud = belief.cloud
    taken = taken_out_us_cm(belief, family, outlook(belief, family))
    ec = np.log(math.exp(outlet) + np.maximum(taken, 0.0))
    hard = cloud["hard"] + cloud["ec"] - ec
    columns = {"ec": ec, "hard": hard, "ec_var": np.full(len(ec), LONE_NOISE**2)}
    return changed(belief, columns, ec_known=True)


def far_sighted(off: Floats, variance: Floats) -> Floats:
    """Log likelihood of a reading that is off by so much: normal near, flat far."""
    z2 = off**2 / variance
    return np.asarray(np.logaddexp(-0.5 * z2, -0.5 * FAR**2) - 0.5 * np.log(variance))


def long_tailed(off: Floats, variance: Floats) -> Floats:
    """Log likelihood of a reading whose noise is itself not well known: Student's t."""
    spread = 0.5 * (FREEDOM + 1.0) * np.log1p(off**2 / variance / FREEDOM)
    return np.asarray(-spread - 0.5 * np.log(variance))


def _bounded(belief: Belief, ln_likelihood: Floats) -> Floats:
    """The likelihood, flattened where one look alone would leave few guesses: the front takes many
    looks, and what one look says so loudly is more often a fault of the model."""
    before, relative = shares(belief), ln_likelihood - ln_likelihood.max()
    least = BOUND / float(np.sum(before**2))

    def carrying(power: float) -> float:
        weight = before * np.exp(power * relative)
        return float(weight.sum() ** 2 / np.sum(weight**2))

    if carrying(1.0) >= least:
        return ln_likelihood
    low, high = 0.0, 1.0
    for _ in range(7):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if carrying(middle) >= least else (low, middle)
    return low * ln_likelihood


def nearness(off: Floats, variance: Floats) -> Floats:
    """How much of a reading that is off by so much is taken for true, 1 near, 0 far."""
    return np.asarray(
        1.0 / (1.0 + np.exp(np.clip(0.5 * (off**2 / variance - FAR**2), -50.0, 50.0)))
    )
