"""Guesses tried again on the whole past of their cartridge.

Where few guesses carry the weight, those that are left are no longer spread over all that is
possible. Each is offered other values of what is fixed (capacity, front, where sodium comes, depth
of the fall, noise) and takes them with the chance that Metropolis and Hastings give it by all that
the probes and the drop tests said since the cartridge was fitted (Chopin 2002, A sequential
particle filter method for static models). Proposals leave the prior as it is (Neal 1999: an
autoregressive step of a standard normal), so that only the readings decide.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray

from analytics.baseline import CURVE_A_LIFE as STRAIGHT_A_LIFE
from analytics.baseline import (
    FILM_A_DAY,
    NOISES,
    SLOPE_SD_A_DAY,
    WANDERS,
    Cloud,
    corrected,
    filmed,
    levels,
    paced,
)
from analytics.bed import sees_little
from analytics.belief import (
    ASTRAY_FAINT_SD,
    ASTRAY_SD,
    BYPASS_SD,
    DEPTH,
    FIELD_LN,
    K_SD,
    WAVE_SD,
    YIELD_SD,
    Belief,
    chance,
    changed,
    shares,
)
from analytics.column.family import CurveFamily
from analytics.evidence import curve_error, long_tailed, walked_away
from analytics.guess import ln_outlet_over_raw, outlook, with_lives
from analytics.past import Past
from analytics.samples import Floats, Ints
from analytics.setup import LineSetup
from analytics.titration import report_ln_likelihood, test_ln_likelihood

SWEEPS: Final = 4
WATER: Final = ("bypass", "k", "hard", "ratio", "calcium")
STEPS: Final = (0.1, 0.3, 0.8)
LEAST_SD: Final = np.array([0.002, 0.002, 0.003, 0.003, 0.002])
"""Steps of water and bypass, in spreads that they have among the guesses, and the least spread."""
KEPT: Final = (0.0, 0.8, 0.95, 0.99)
"""How much of its own values a guess keeps in a proposal, one of these by chance."""
LEAST_LOOKS: Final = 3
BASELINE: Final = (
    "gain",
    "gain_var",
    "slope",
    "slope_var",
    "gain_slope",
    "pace",
    "expected",
    "fouled",
    "film",
)
TRIED: Final = (
    *BASELINE,
    *WATER,
    *("capacity", "shape", "wave", "depth", "astray", "noise", "wander"),
    *("ec", "film_days", "life", "a_life"),
)
FILM_TRIED: Final = 0.15
"""Share of proposals with a film by its prior: on either probe, on any day, or none."""


def can_be_tried(belief: Belief, line: LineSetup) -> bool:
    """Whether the whole past is there to try guesses on."""
    past = belief.past
    there = past.whole and len(past.days) >= LEAST_LOOKS and line.inlet_probe
    there = there and math.isfinite(float(belief.cloud["a_life"][0]))
    return there and not belief.started_unknown


def tried_again(belief: Belief, line: LineSetup, family: CurveFamily, seed: int) -> Belief:
    """Guesses after a few proposals each."""
    rng = chance(seed, belief.steps, 12)
    told, _ = answer(belief, line, family)
    odds = told + prior_of_water(belief)
    for sweep in range(SWEEPS):
        water = sweep % 2 == 0 and belief.past.water
        other = _other_water(belief, rng) if water else _proposed(belief, line, family, rng)
        other = with_lives(other, line, family)
        life = other.cloud["life"] * belief.cloud["a_life"] / other.cloud["a_life"]
        other = changed(other, {"life": np.minimum(life, 3.0)})
        would, baseline = answer(other, line, family)
        would = would + prior_of_water(other)
        takes = np.log(rng.random(len(told))) < would - odds
        belief = _taken(belief, _with_film(other, line, family, baseline), takes)
        odds = np.where(takes, would, odds)
    return belief


def _other_water(belief: Belief, rng: np.random.Generator) -> Belief:
    """Other raw water and bypass, a step off along the spread that they have by now."""
    n = len(belief.ln_weight)
    values = np.array([belief.cloud[name] for name in WATER])
    spread = np.cov(values, aweights=shares(belief)) + np.diag(LEAST_SD**2)
    steps = np.linalg.cholesky(spread) @ rng.standard_normal((len(WATER), n))
    values = values + rng.choice(STEPS, n) * steps
    if belief.past.bypass <= 0.0:
        values[0] = belief.cloud["bypass"]
    return changed(belief, dict(zip(WATER, values, strict=True)))


def prior_of_water(belief: Belief) -> Floats:
    """Log likelihood of raw water, bypass and K-factor by all that was stated of them."""
    cloud, past = belief.cloud, belief.past
    if not past.water:
        return np.zeros(len(belief.ln_weight))
    odds = -0.5 * (cloud["k"] / K_SD) ** 2
    if past.bypass > 0.0:
        odds -= 0.5 * ((cloud["bypass"] - past.bypass) / BYPASS_SD) ** 2
    if belief.report is not None:
        odds += report_ln_likelihood(belief, belief.report)
    possible = (cloud["bypass"] >= 0.0) & (cloud["bypass"] <= 0.95)
    possible &= (cloud["calcium"] >= 0.3) & (cloud["calcium"] <= 0.99)
    return np.where(possible, odds, -np.inf)


def _with_film(belief: Belief, line: LineSetup, family: CurveFamily, baseline: Cloud) -> Belief:
    """Raw water is what the inlet probe says and what its film hides; litres stay passed."""
    cloud = belief.cloud
    ec = cloud["ec"] + baseline["film"] - cloud["film"]
    after = with_lives(changed(belief, baseline | {"ec": ec}), line, family)
    life = cloud["life"] * cloud["a_life"] / after.cloud["a_life"]
    return changed(after, {"life": np.minimum(life, 3.0)})


def _taken(belief: Belief, other: Belief, takes: NDArray[np.bool_]) -> Belief:
    cloud = belief.cloud
    return changed(belief, {n: np.where(takes, other.cloud[n], cloud[n]) for n in TRIED})


def _proposed(
    belief: Belief, line: LineSetup, family: CurveFamily, rng: np.random.Generator
) -> Belief:
    cloud, n = belief.cloud, len(belief.ln_weight)
    keeps = rng.choice(KEPT, n)
    noise = np.sqrt(1.0 - keeps**2)

    def moved(name: str, middle: float, sd: float) -> Floats:
        z = (cloud[name] - middle) / sd
        return np.asarray(middle + sd * (keeps * z + noise * rng.standard_normal(n)))

    capacity_sd = math.hypot(line.capacity_relative_sd, YIELD_SD)
    columns = {
        "capacity": moved("capacity", FIELD_LN, capacity_sd),
        "wave": moved("wave", 0.0, WAVE_SD),
        "depth": moved("depth", *DEPTH),
        "astray": moved("astray", 0.0, ASTRAY_FAINT_SD if sees_little(line.medium) else ASTRAY_SD),
        "shape": _other_front(cloud["shape"].astype(np.int64), family, rng).astype(np.float64),
    }
    for name, which in (("noise", NOISES), ("wander", WANDERS)):
        columns[name] = np.where(rng.random(n) < 0.2, levels(which, n, rng), cloud[name])
    return changed(belief, columns | _other_film(belief, rng))


def _other_film(belief: Belief, rng: np.random.Generator) -> Cloud:
    """A film by its prior for some of the guesses: when it began, and on which probe."""
    cloud, n = belief.cloud, len(belief.ln_weight)
    days = float(belief.past.days.sum()) + belief.quiet_days
    tries = rng.random(n) < FILM_TRIED
    begun = rng.exponential(1.0 / (2.0 * FILM_A_DAY), n)
    side = np.where(begun < days, rng.choice((-1.0, 1.0), n), 0.0)
    age = np.where(side == 0.0, 0.0, days - begun)
    return {
        "fouled": np.where(tries, side, cloud["fouled"]),
        "film_days": np.where(tries, age, cloud["film_days"]),
    }


def _other_front(shape: Ints, family: CurveFamily, rng: np.random.Generator) -> Ints:
    """Another sharpness of the front by its prior, for half of the guesses."""
    variants = int(family.variant.max()) + 1
    odds = family.weight.reshape(-1, variants).sum(axis=1)
    sharpness = rng.choice(len(odds), len(shape), p=odds / odds.sum())
    other = sharpness * variants + family.variant[shape]
    return np.asarray(np.where(rng.random(len(shape)) < 0.5, other, shape), dtype=np.int64)


def answer(belief: Belief, line: LineSetup, family: CurveFamily) -> tuple[Floats, Cloud]:
    """Log likelihood of the whole past for every guess, and its baseline after it."""
    past = belief.past
    told, baseline = _answer_probes(belief, family, past)
    for litres, test in past.tests:
        then = changed(belief, {"life": _life_at(belief, litres)})
        told = told + test_ln_likelihood(then, family, test)
    return told, baseline


def _life_at(belief: Belief, litres: float) -> Floats:
    back = (belief.litres - litres) / np.maximum(belief.cloud["a_life"], 1e-6)
    return np.asarray(np.maximum(belief.cloud["life"] - back, 0.0))


def _answer_probes(belief: Belief, family: CurveFamily, past: Past) -> tuple[Floats, Cloud]:
    expected = np.array(
        [
            _expected_at(belief, family, float(litres), float(inlet))
            for litres, inlet in zip(past.litres, past.inlet, strict=True)
        ]
    )
    n = len(belief.ln_weight)
    a_life = float(np.median(belief.cloud["a_life"]))
    lives = np.diff(past.litres, prepend=0.0) / a_life
    pace = float(lives.sum() / max(float(past.days.sum()), 1.0))
    cloud: Cloud = {
        "noise": belief.cloud["noise"],
        "wander": belief.cloud["wander"],
        "gain": np.full(n, past.gain),
        "gain_var": np.full(n, past.gain_var),
        "slope": np.zeros(n),
        "slope_var": np.full(n, SLOPE_SD_A_DAY**2 + (STRAIGHT_A_LIFE * min(pace, 0.1)) ** 2),
        "gain_slope": np.zeros(n),
        "pace": np.zeros(n),
        "film": np.zeros(n),
        "fouled": np.zeros(n),
    }
    told = np.zeros(n)
    error = curve_error(family)
    clock, since = -1e-9, float(past.days.sum()) + belief.quiet_days - belief.cloud["film_days"]
    side = belief.cloud["fouled"]
    for i in range(len(past.days)):
        days = float(past.days[i])
        there = (side != 0.0) & (since <= clock + days)
        begins = there & ((since > clock) | (i == 0))
        grows = np.where(begins, side, cloud["fouled"])
        cloud |= filmed(cloud, days, min(float(lives[i]) / max(days, 1e-3), 0.1), grows, begins)
        clock += days
        step = expected[i] - expected[i - 1] if i else np.zeros(n)
        moved = float(past.inlet[i] - past.inlet[i - 1]) if i else 0.0
        cloud["gain_var"] = cloud["gain_var"] + walked_away(moved, cloud["wander"]) ** 2
        cloud |= paced(cloud, step, days, error.pace)
        young = error.young if float(past.litres[i]) / a_life < error.young_until else 0.0
        before = cloud["gain_var"] + (error.a_life**2 + young) * float(lives[i])
        off = past.ratio[i] - expected[i] - cloud["gain"]
        variance = before + cloud["noise"] ** 2
        told += long_tailed(off, variance)
        cloud |= corrected(cloud, before, off, 1.0 / variance)
    cloud["expected"] = expected[-1]
    cloud["fouled"] = np.where((cloud["fouled"] == 0.0) & (side != 0.0), side, cloud["fouled"])
    return told, {name: cloud[name] for name in BASELINE}


def _expected_at(belief: Belief, family: CurveFamily, litres: float, inlet: float) -> Floats:
    n = len(belief.ln_weight)
    then = changed(belief, {"life": _life_at(belief, litres), "ec": np.full(n, inlet)})
    return ln_outlet_over_raw(then, family, outlook(then, family))
