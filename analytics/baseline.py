"""Where the outlet probe stands against the inlet probe: gain, its drift, its noise, its films.

Every guess carries a normal distribution of gain and drift along (a Kalman filter with two states:
Bar-Shalom, Li & Kirubarajan 2001, Estimation with Applications to Tracking and Navigation, ch. 6),
and one level of noise and of wandering each, which the readings sort out: some supplies keep the
make-up of their water to a thousandth for months, others mix two fields from day to day. What is
slow against its own past is drift or water; what is faster is the front.
"""

from __future__ import annotations

import math
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from analytics.samples import Floats

Cloud = dict[str, NDArray[np.float64]]

GAIN_SD: Final = 0.031
"""Two probes against each other before they read one water: 2.2 % each (common practice)."""
SLOPE_SD_A_DAY: Final = 2.0e-4
"""Steady drift of one probe against another, relative (common practice, no source)."""
NOISES: Final = ((0.0009, 0.5), (0.0022, 0.3), (0.006, 0.2))
"""Error of one look's conductivity ratio that more readings do not lessen, with its chance."""
WANDERS: Final = ((0.00006, 0.4), (0.0006, 0.35), (0.003, 0.25))
"""Daily random step of the ratio that the make-up of the water brings, with its chance."""
STEADY: Final = 4e-4
"""Water whose ratio wanders less than this a day keeps its make-up."""
OTHERWISE: Final = 0.03
"""Share of guesses that get other levels whenever guesses are drawn anew: supplies change."""
FREE_A_DAY: Final = 0.0015
"""Random step of gain that stands for all drift, where only its absolute value is asked for."""
CURVE_A_LIFE: Final = 0.01
"""How far the modelled ratio goes astray over a life, as a straight line."""
CURVE_TURN: Final = 0.02
"""How much that line turns over a life, at random."""
CURVE_PACE: Final = 0.2
FAINT_CURVE_PACE: Final = 0.4
"""Error of the pace at which the model says the ratio moves, relative; it stays as it is while the
pace stays. The second is for media that swap one cation for another."""
SHORTEST_DAYS: Final = 0.5
FILM_A_DAY: Final = 6e-4
"""Chance a day that a film begins to grow on the outlet probe."""
FILM_TRIED_A_DAY: Final = 8e-3
"""How many guesses a day try it; they carry the less weight, so that the chance stays."""
FILM_PULL_A_DAY: Final = 0.014
FILM_PULL_SD_A_DAY: Final = 0.012
"""A young film pulls the reading low by about this much a day (no source)."""
FILM_TURN: Final = 0.003
"""How much that pull changes in a day, at random."""
FILM_SLOWS_DAYS: Final = 14.0
"""A film grows ever slower: time in which its pull falls to 1/e (no source)."""


def start_baseline(count: int, pair: bool, rng: np.random.Generator) -> Cloud:
    """Columns of the baseline before anything was read; one probe has nothing to stand against."""
    gain_var = np.full(count, GAIN_SD**2 if pair else 1e-8)
    return {
        "gain": np.zeros(count),
        "gain_var": gain_var,
        "slope": np.zeros(count),
        "slope_var": np.full(count, SLOPE_SD_A_DAY**2),
        "gain_slope": np.zeros(count),
        "pace": np.zeros(count),
        "free": np.zeros(count),
        "free_var": gain_var.copy(),
        "noise": levels(NOISES, count, rng),
        "wander": levels(WANDERS, count, rng),
        "fouled": np.zeros(count),
        "film": np.zeros(count),
        "film_days": np.zeros(count),
    }


def levels(known: Any, count: int, rng: np.random.Generator) -> Floats:
    """Levels drawn by their chances."""
    values, odds = np.array(known).T
    return np.asarray(rng.choice(values, count, p=odds))


def other_levels(cloud: Cloud, rng: np.random.Generator) -> Cloud:
    """A few guesses think otherwise of noise and wandering."""
    count = len(cloud["gain"])
    other = rng.random(count) < OTHERWISE
    return {
        "noise": np.where(other, levels(NOISES, count, rng), cloud["noise"]),
        "wander": np.where(other, levels(WANDERS, count, rng), cloud["wander"]),
    }


def elapse(
    cloud: Cloud, days: float, lives_a_day: float, rng: np.random.Generator, pair: bool = True
) -> tuple[Cloud, Floats]:
    """Gain drifts and wanders, a film may begin; with the columns, the logarithm of each guess's
    weight for having tried films more often than they begin.

    `fouled` is below 0 where the film is the inlet probe's: then the inlet reads low by `film`.
    """
    side, tried = _films(cloud, days, rng, pair)
    begins = tried < 0.0
    columns = filmed(cloud, days, lives_a_day, side, begins)
    side = columns["fouled"]
    columns |= {
        "free": cloud["free"] - FILM_PULL_A_DAY * days * side,
        "free_var": cloud["free_var"] + (FREE_A_DAY**2 + 0.03**2 * np.abs(side)) * days,
        "film_days": np.where(np.abs(side) > 0.5, cloud["film_days"] + days, 0.0),
    }
    return columns, tried


def filmed(
    cloud: Cloud, days: float, lives_a_day: float, side: Floats, begins: NDArray[np.bool_]
) -> Cloud:
    """Gain and drift after these days with films on this side, which begin or have begun."""
    on = np.abs(side)
    slope = cloud["slope"] - np.where(begins, FILM_PULL_A_DAY * side, 0.0)
    # a ratio that falls is the outlet probe's film, one that rises the inlet probe's
    side = np.where((on > 0.5) & (np.abs(slope) > 1e-3), -np.sign(slope), side)
    slope_var = cloud["slope_var"] + np.where(begins, FILM_PULL_SD_A_DAY**2, 0.0)
    turn = on * FILM_TURN**2 * np.minimum(slope_var / 1e-4 + 0.02, 1.0)
    kept = np.where(on > 0.5, math.exp(-days / FILM_SLOWS_DAYS), 1.0)
    begun = {**cloud, "slope": slope, "slope_var": slope_var}
    return gone_on(begun, days, lives_a_day, turn, kept) | {
        "fouled": side,
        "film": cloud["film"] + np.where(side < 0.0, days * slope, 0.0),
    }


def gone_on(
    cloud: Cloud,
    days: float,
    lives_a_day: float,
    turn: Floats | float = 0.0,
    kept: Floats | float = 1.0,
) -> Cloud:
    """Gain and drift after these days: what a drift may turn by a day, and what is kept of it."""
    turn = turn + CURVE_TURN**2 * lives_a_day**3
    slope_var, both = cloud["slope_var"], cloud["gain_slope"]
    var = cloud["gain_var"] + 2.0 * days * both + days**2 * slope_var
    both = both + days * slope_var + 0.5 * turn * days**2
    return {
        "gain": cloud["gain"] + days * cloud["slope"],
        "gain_var": var + cloud["wander"] ** 2 * days + turn * days**3 / 3.0,
        "slope": cloud["slope"] * kept,
        "slope_var": slope_var * kept**2 + turn * days,
        "gain_slope": both * kept,
    }


def _films(
    cloud: Cloud, days: float, rng: np.random.Generator, pair: bool
) -> tuple[Floats, Floats]:
    """On which probe a film grows (1 outlet, -1 inlet, 0 none), and the weights of new tries."""
    draw = rng.random(len(cloud["gain"]))
    chance_of = min(FILM_TRIED_A_DAY * days, 0.1)
    begins = (cloud["fouled"] == 0.0) & (draw < (2.0 if pair else 1.0) * chance_of)
    side = np.where(begins, np.where(draw < chance_of, 1.0, -1.0), cloud["fouled"])
    return side, np.where(begins, math.log(FILM_A_DAY / FILM_TRIED_A_DAY), 0.0)


def astray_a_life(cloud: Cloud, lives_a_day: float) -> Cloud:
    """The model's own straight error, seen as drift, once it is known how fast life passes."""
    return {"slope_var": cloud["slope_var"] + (CURVE_A_LIFE * lives_a_day) ** 2}


def paced(cloud: Cloud, step: Floats, days: float, error: float) -> Cloud:
    """What another pace of the modelled ratio (`step` in these days) adds to what is not known of
    drift: a front that is modelled too steep or too flat looks like a drift that sets in."""
    days = max(days, SHORTEST_DAYS)
    pace = step / days
    added = (error * (pace - cloud["pace"])) ** 2
    return {
        "pace": pace,
        "gain_var": cloud["gain_var"] + added * days**2,
        "gain_slope": cloud["gain_slope"] + added * days,
        "slope_var": cloud["slope_var"] + added,
    }


def corrected(cloud: Cloud, before: Floats, off: Floats, weight: Floats) -> Cloud:
    """Gain and drift after a reading that was `off`; `before` is the variance of gain before it
    and `weight` how much of `off` per unit of variance is taken over."""
    to_gain, to_slope = before * weight, cloud["gain_slope"] * weight
    inlet = cloud["fouled"] < 0.0  # its film only ever makes it read low
    return {
        "gain": cloud["gain"] + to_gain * off,
        "film": np.maximum(cloud["film"] + np.where(inlet, to_gain * off, 0.0), 0.0),
        "slope": cloud["slope"] + to_slope * off,
        "gain_var": np.maximum(before * (1.0 - to_gain), 1e-10),
        "slope_var": np.maximum(cloud["slope_var"] - to_slope * cloud["gain_slope"], 1e-14),
        "gain_slope": cloud["gain_slope"] * (1.0 - to_gain),
    }


def moved_over(cloud: Cloud, shift: Floats) -> tuple[Cloud, Floats]:
    """Gain takes over what the modelled ratio moved by (`shift`) when a guess's fixed figures were
    drawn anew: the readings so far stay as well explained. With the columns, the logarithm of each
    guess's weight for how likely that gain is in itself."""
    gain = cloud["gain"] - shift
    var = cloud["free_var"]
    odds = 0.5 * ((cloud["gain"] - cloud["free"]) ** 2 - (gain - cloud["free"]) ** 2) / var
    return {"gain": gain}, np.clip(odds, -20.0, 20.0)


def known_gain(count: int, gain: float, sd: float) -> Cloud:
    """Both probes have just read one water."""
    return {
        "gain": np.full(count, gain),
        "gain_var": np.full(count, sd**2),
        "gain_slope": np.zeros(count),
        "free": np.full(count, gain),
        "free_var": np.full(count, sd**2),
        "fouled": np.zeros(count),
        "film": np.zeros(count),
        "film_days": np.zeros(count),
    }


def new_probe(count: int, sd: float) -> Cloud:
    """A probe that nobody checked has taken another's place."""
    drift = {
        "slope": np.zeros(count),
        "slope_var": np.full(count, SLOPE_SD_A_DAY**2),
        "pace": np.zeros(count),
    }
    return known_gain(count, 0.0, sd) | drift


def turned_round(cloud: Cloud) -> Cloud:
    """The two probes were taken for each other: what stands against what turns about."""
    return {name: -cloud[name] for name in ("gain", "slope", "free")}


def less_known(cloud: Cloud, variance: Floats | float) -> Cloud:
    """Gain may have moved by this much."""
    return {
        "gain_var": cloud["gain_var"] + variance,
        "free_var": cloud["free_var"] + variance,
    }
