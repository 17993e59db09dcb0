"""What time, litres and conductivity do to the guesses."""

from __future__ import annotations

import math
from typing import Final

import msgspec
import numpy as np

from analytics.belief import CONDUCTIVITY, Belief, Cloud, chance, changed, reweigh
from analytics.chemistry.temperature import f25_where_defined
from analytics.column.family import CurveFamily
from analytics.guess import ln_outlet_over_raw, outlook, taken_out_us_cm
from analytics.samples import Draws, Floats
from analytics.setup import LineSetup

WATER_A_DAY: Final = {"hard": 0.0022, "ratio": 0.0022, "calcium": 0.0008}
"""Daily random step of hardness per conductivity, of the ratio and of the calcium share, of a
supply at rest (no source)."""
RESTLESS_TIMES: Final = 2.5
"""How much more the composition of a restless supply moves."""
EC_A_DAY: Final = (0.004, 0.02)
"""Daily random step of raw conductivity where no inlet probe sees it: at rest, restless."""
GAIN_A_DAY: Final = 1.2e-4
"""Daily random step of one probe against the other, beside its steady drift."""
CURVE_A_LIFE: Final = 0.007
"""How far the modelled conductivity ratio goes astray over a life, as a random walk."""
FAINT_CURVE_A_LIFE: Final = 0.02
"""The same for media that swap one cation for another, whose sign hangs on the anions."""
CURVE_A_STEP: Final = 0.3
"""Error of what the modelled ratio moves from look to look, relative."""
CURVE_A_MOVE: Final = 0.05
"""The same for each unit that ln of raw conductivity moves."""
FILM_A_DAY: Final = 6e-4
"""Chance a day that a film begins to grow on the outlet probe."""
FILM_TRIED_A_DAY: Final = 8e-3
"""How many guesses a day try it; they carry the less weight, so that the chance stays."""
SLOWS_A_DAY: Final = 0.03
ENDS_A_DAY: Final = 0.01
SLOW_FILM: Final = 0.25
"""A film slows down as it grows, to a quarter first, and may end (chances a day, no source)."""
FILM_PULL_A_DAY: Final = 0.010
FILM_SCATTER_A_DAY: Final = 0.015
"""A film pulls the reading low by about this much a day, with this scatter (no source)."""
PAIR_NOISE: Final = 0.0022
"""Error of one look's conductivity ratio that more readings do not lessen."""
LONE_NOISE: Final = 0.008
"""The same for one probe: raw water's own ups and downs within days are in it."""
DRY_US_CM: Final = 15.0
"""Readings below this are of air (common practice, no source)."""
STANDS_STILL: Final = 1.2e-3
"""A probe that varies by less than this over several draws is stuck: rounding and the reference to
25 C alone move it."""
LEAST_DRAWS: Final = 6
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
    """
    inlet, outlet = draws.inlet_ec25_us_cm, draws.outlet_ec25_us_cm
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


def drift(belief: Belief, line: LineSetup, days: float, seed: int) -> Belief:
    """Let water and probes wander for this long."""
    if days <= 0.0:
        return belief
    rng, cloud, n = chance(seed, belief.steps, 2), belief.cloud, len(belief.ln_weight)
    root, restless = math.sqrt(days), cloud["restless"]
    more = 1.0 + (RESTLESS_TIMES - 1.0) * restless
    moved = {
        name: cloud[name] + rate * root * more * rng.standard_normal(n)
        for name, rate in WATER_A_DAY.items()
    }
    moved["calcium"] = np.clip(moved["calcium"], 0.3, 0.99)
    probes, tried = _probes_wander(cloud, days, rng, line.inlet_probe)
    moved |= probes
    if not line.inlet_probe:
        step = np.where(restless > 0.5, EC_A_DAY[1], EC_A_DAY[0])
        moved["ec_var"] = cloud["ec_var"] + step**2 * days
    return changed(belief, moved, ln_weight=belief.ln_weight + tried)


def _probes_wander(
    cloud: dict[str, Floats], days: float, rng: np.random.Generator, pair: bool
) -> tuple[dict[str, Floats], Floats]:
    """Gain drifts steadily and at random; a film may grow, or be wiped off. With the columns, the
    logarithm of each guess's weight for having tried more often than films begin.

    `fouled` is below 0 where the film is the inlet probe's: then the inlet reads low by `film`.
    """
    draw = rng.random(len(cloud["gain"]))
    chance_of = min(FILM_TRIED_A_DAY * days, 0.1)
    begins = (np.abs(cloud["fouled"]) < 0.1) & (draw < (2.0 if pair else 1.0) * chance_of)
    tried = np.where(begins, math.log(FILM_A_DAY / FILM_TRIED_A_DAY), 0.0)
    side = np.where(begins & (draw >= chance_of), -1.0, np.where(cloud["fouled"] < 0.0, -1.0, 1.0))
    thick = np.where(begins, 1.0, np.abs(cloud["fouled"]))
    slows = (np.abs(cloud["fouled"]) > 0.5) & (draw < SLOWS_A_DAY * days)
    thick = np.where(slows, SLOW_FILM, thick)
    ends = (np.abs(cloud["fouled"]) == SLOW_FILM) & (draw > 1.0 - ENDS_A_DAY * days)
    thick = np.where(ends, 0.0, thick)
    pull = FILM_PULL_A_DAY * days * thick * side
    added = GAIN_A_DAY**2 + FILM_SCATTER_A_DAY**2 * thick
    return {
        "fouled": thick * side,
        "film": cloud["film"] + np.maximum(-pull, 0.0),
        "gain": cloud["gain"] + cloud["slope"] * days - pull,
        "gain_var": cloud["gain_var"] + added * days,
    }, tried


def pass_litres(belief: Belief, litres: float) -> Belief:
    """Use the bed of every guess up by these litres."""
    if litres <= 0.0:
        return belief
    a_life = belief.cloud["a_life"]
    if not math.isfinite(float(a_life[0])):
        return msgspec.structs.replace(belief, litres=belief.litres + litres)
    life = np.minimum(belief.cloud["life"] + litres / np.maximum(a_life, 1e-6), 3.0)
    return changed(belief, {"life": life}, litres=belief.litres + litres)


def follow_inlet(belief: Belief, inlet: float, seed: int) -> Belief:
    """Raw conductivity is what the inlet probe says; hardness goes with it, a little loosely."""
    cloud, n = belief.cloud, len(belief.ln_weight)
    if not belief.ec_known:
        # the hardness believed so far stays; only what it is per conductivity becomes known
        hard = cloud["hard"] + cloud["ec"] - inlet
        columns = {"ec": np.full(n, inlet), "ec_var": np.full(n, 1e-8), "hard": hard}
        return changed(belief, columns, ec_known=True)
    moved = inlet - _inlet_before(cloud)
    loose = 0.25 * max(abs(moved) - 0.01, 0.0)
    columns = {
        "ec": inlet + cloud["film"],
        "gain_var": cloud["gain_var"] + (CURVE_A_MOVE * moved) ** 2,
    }
    if loose > 0.0:
        rng = chance(seed, belief.steps, 3)
        columns["hard"] = cloud["hard"] + loose * rng.standard_normal(n)
        columns["ratio"] = cloud["ratio"] + loose * rng.standard_normal(n)
    return changed(belief, columns)


def _thicker(cloud: Cloud, by: Floats) -> Floats:
    """The film on the inlet probe after a look: it only ever makes the probe read low."""
    return np.where(cloud["fouled"] < 0.0, np.maximum(cloud["film"] + by, 0.0), cloud["film"])


def _inlet_before(cloud: Cloud) -> float:
    """ln(EC25) that the inlet probe said at the last look."""
    bare = cloud["film"] == 0.0
    if bare.any():
        return float(np.median(cloud["ec"][bare]))
    return float(np.median(cloud["ec"] - cloud["film"]))


def see_pair(belief: Belief, family: CurveFamily, seen: Seen, life_passed: float) -> Belief:
    """Weigh outlet over inlet; `life_passed` is the share of life since the last look."""
    cloud = belief.cloud
    expected = ln_outlet_over_raw(belief, family, outlook(belief, family))
    before = cloud["gain_var"] + _curve_var(cloud, family, expected, life_passed)
    off = seen.ratio - expected - cloud["gain"]
    variance = before + PAIR_NOISE**2
    belief = reweigh(belief, far_sighted(off, variance), CONDUCTIVITY)
    kept = before / variance * nearness(off, variance)
    columns = {
        "gain": cloud["gain"] + kept * off,
        "gain_var": before * (1.0 - kept),
        "film": _thicker(cloud, kept * off),
        "expected": expected,
    }
    return changed(belief, columns)


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
    near = nearness(off, variance)
    to_ec, to_gain = near * ec_var / variance, near * gain_var / variance
    columns = {
        "ec": cloud["ec"] + to_ec * off,
        "ec_var": ec_var * (1.0 - to_ec),
        "gain": cloud["gain"] + to_gain * off,
        "gain_var": gain_var * (1.0 - to_gain),
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


def nearness(off: Floats, variance: Floats) -> Floats:
    """How much of a reading that is off by so much is taken for true, 1 near, 0 far."""
    return np.asarray(
        1.0 / (1.0 + np.exp(np.clip(0.5 * (off**2 / variance - FAR**2), -50.0, 50.0)))
    )
