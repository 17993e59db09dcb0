"""What is believed of a line: many weighted guesses at what cannot be seen.

A guess (a particle) is one possible state of cartridge, bypass, meters and water. Columns of the
cloud, one value a guess:

    capacity  ln(true / rated capacity)          life     share of the life to the end that is used
    shape     which curve of the family it is    bypass   share that goes round the medium
    depth     relative error of the EC drop      k        ln(true / stated pulses per litre)
    ec        ln(raw EC25), reference probe      hard     ln(raw hardness mmol/L) - ec
    ratio     ln(alkalinity / hardness, eq.)     calcium  calcium's share of hardness
    gain      ln(outlet probe / reference probe)

The reference probe is the inlet probe of a pair, else the outlet probe itself. `ec` and `gain` are
means of a normal distribution that every guess carries along (a Kalman filter in each guess, with
one variance for all), the other columns are plain values.
"""

from __future__ import annotations

from typing import Any, Final, TypeAlias

import msgspec
import numpy as np
from numpy.typing import NDArray

from analytics.bed import Stand, shape_weights
from analytics.samples import Floats, Spread
from analytics.setup import LineSetup

Cloud: TypeAlias = dict[str, NDArray[np.float64]]

GUESSES: Final = 1200
SMALL_WEIGHT: Final = 0.5
"""Guesses are drawn anew when fewer than this share of them carry the weight."""
SHRINK: Final = 0.98
"""How far drawn guesses keep their own values (Liu & West 2001, Combined parameter and state
estimation in simulation-based filtering): the rest is moved noise, so that the spread stays."""

DEPTH_SD: Final = 0.05
"""Error of the modelled fall of conductivity in the bed, relative: unknown anions, the model."""

LITRES, CONDUCTIVITY, DROP_TESTS = 0, 1, 2


class Belief(msgspec.Struct, frozen=True, kw_only=True):
    """The weighted guesses and what goes with them. `steps` also numbers the draws of chance."""

    cloud: Cloud
    ln_weight: NDArray[np.float64]
    stand: Stand | None = None
    steps: int = 0
    ec_var: float = 0.25
    gain_var: float = 9e-4
    ec_known: bool = False
    raw_known: bool = False
    nats: tuple[float, float, float] = (0.5, 0.0, 0.0)
    """Information taken from litres, conductivity and drop tests so far."""
    litres: float = 0.0
    """Litres through the head since the cartridge was fitted, as the stated K-factor counts."""


def chance(seed: int, step: int, use: int = 0) -> np.random.Generator:
    """The same random numbers for the same step and use of the same site, wherever it is run."""
    return np.random.Generator(np.random.Philox(key=[seed & 0xFFFFFFFF, 16 * step + use]))


def begin(line: LineSetup, seed: int) -> Belief:
    """Before anything was measured: what the plate and the site file say, and what is usual.

    The start is unknown: any share of life may be used until a new cartridge is announced.
    """
    rng = chance(seed, 0)
    n = GUESSES
    cloud = cartridge(line, rng)
    cloud |= {
        "life": rng.random(n),
        "bypass": bypass_guesses(rng, line.bypass),
        "k": 0.018 * rng.standard_normal(n),
        "ec": np.full(n, np.log(500.0)),
        "hard": np.log(1.0 / 230.0) + 0.4 * rng.standard_normal(n),
        "ratio": np.log(0.75) + 0.4 * rng.standard_normal(n),
        "calcium": np.clip(0.8 + 0.1 * rng.standard_normal(n), 0.3, 0.99),
        "gain": np.zeros(n),
    }
    return Belief(cloud=cloud, ln_weight=np.zeros(n))


def cartridge(line: LineSetup, rng: np.random.Generator) -> Cloud:
    """Guesses at what one cartridge of this kind really is."""
    weights = shape_weights(line.medium)
    return {
        "capacity": line.capacity_relative_sd * rng.standard_normal(GUESSES),
        "shape": rng.choice(len(weights), GUESSES, p=weights).astype(np.float64),
        "depth": DEPTH_SD * rng.standard_normal(GUESSES),
    }


def bypass_guesses(rng: np.random.Generator, setting: float) -> Floats:
    """True bypass shares behind a setting: several points off (common practice, no source)."""
    if setting <= 0.0:
        return np.zeros(GUESSES)
    return np.clip(setting + 0.045 * rng.standard_normal(GUESSES), 0.0, 0.95)


def changed(belief: Belief, columns: Cloud, **more: Any) -> Belief:
    """The belief with some columns of its cloud replaced."""
    return msgspec.structs.replace(belief, cloud=belief.cloud | columns, **more)


def shares(belief: Belief) -> Floats:
    """Normalised weights of the guesses."""
    weight = np.exp(belief.ln_weight - belief.ln_weight.max())
    return np.asarray(weight / weight.sum())


def spread_of(values: Floats, weights: Floats) -> Spread:
    """Weighted median, 5 and 95 % points."""
    order = np.argsort(values, kind="stable")
    running = np.cumsum(weights[order]) - 0.5 * weights[order]
    p05, p50, p95 = np.interp((0.05, 0.5, 0.95), running, values[order]).tolist()
    return Spread(p50=p50, p05=p05, p95=p95)


def reweigh(belief: Belief, ln_likelihood: Floats, evidence: int) -> Belief:
    """Weigh the guesses by new evidence and count what it told (relative entropy, nats)."""
    before = shares(belief)
    ln_weight = belief.ln_weight + ln_likelihood
    ln_weight = ln_weight - ln_weight.max()
    after = np.exp(ln_weight)
    after /= after.sum()
    told = float(np.sum(after * np.log(np.maximum(after, 1e-300) / np.maximum(before, 1e-300))))
    nats = list(belief.nats)
    nats[evidence] += max(told, 0.0)
    return msgspec.structs.replace(belief, ln_weight=ln_weight, nats=(nats[0], nats[1], nats[2]))


def refresh(belief: Belief, seed: int) -> Belief:
    """Draw the guesses anew where too few carry the weight, moved a little apart."""
    weights = shares(belief)
    if 1.0 / np.sum(weights**2) > SMALL_WEIGHT * len(weights):
        return belief
    rng = chance(seed, belief.steps, 1)
    n = len(weights)
    places = np.searchsorted(np.cumsum(weights), (rng.random() + np.arange(n)) / n)
    places = np.minimum(places, n - 1)
    moved: Cloud = {}
    for name, values in belief.cloud.items():
        if name == "shape":
            moved[name] = values[places]
            continue
        mean = float(np.sum(weights * values))
        scatter = float(np.sqrt(np.sum(weights * (values - mean) ** 2)))
        jitter = np.sqrt(1.0 - SHRINK**2) * scatter * rng.standard_normal(n)
        moved[name] = SHRINK * values[places] + (1.0 - SHRINK) * mean + jitter
    return changed(belief, bounded(moved), ln_weight=np.zeros(n))


def bounded(cloud: Cloud) -> Cloud:
    """Keep shares inside what is possible."""
    return cloud | {
        "bypass": np.clip(cloud["bypass"], 0.0, 0.95),
        "calcium": np.clip(cloud["calcium"], 0.3, 0.99),
        "life": np.maximum(cloud["life"], 0.0),
    }
