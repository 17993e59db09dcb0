"""What is believed of a line's cartridge: many weighted guesses at what cannot be seen.

A first form of the sequential Bayesian filter: the litres move every guess, drop tests and a probe
pair weigh them. Each guess (a particle) holds the logarithms of true over rated capacity, of raw
hardness and of true over stated K-factor, the bypass, and the load taken so far.
"""

from __future__ import annotations

from typing import Any, TypeAlias

import msgspec
import numpy as np
from numpy.typing import NDArray

from analytics.samples import Floats, Spread
from analytics.setup import CapacityKind, LineSetup

Bools: TypeAlias = NDArray[np.bool_]

GUESSES = 600
SHAPE = 14.0
"""Steepness of the S-curve of a bed's end in loaded/capacity (simple form, common practice)."""


class Belief(msgspec.Struct, frozen=True, kw_only=True):
    """Weighted guesses; arrays have one length. `steps` also numbers the draws of chance."""

    ln_capacity: Floats
    ln_raw: Floats
    ln_alk: Floats
    ln_k: Floats
    bypass: Floats
    load_mmol: Floats
    ln_weight: Floats
    steps: int = 0
    nats: tuple[float, float, float] = (1.0, 0.0, 0.0)
    """Information taken so far from litres (one nat to begin with), conductivity, drop tests."""
    inlet_ec25: float = float("nan")
    litres: float = 0.0
    raw_known: bool = False


def chance(seed: int, step: int) -> np.random.Generator:
    """The same random numbers for the same step of the same site, wherever it is run."""
    return np.random.Generator(np.random.Philox(key=[seed & 0xFFFFFFFF, step]))


def begin(line: LineSetup, seed: int) -> Belief:
    """Before anything was measured: capacity, bypass and K-factor as stated, raw water unknown.

    The start is unknown too: the load lies anywhere from none to the whole capacity until a new
    cartridge is announced.
    """
    rng = chance(seed, 0)
    n = GUESSES
    spread = np.hypot(line.capacity_relative_sd, 0.05)
    bypass = line.bypass + (0.04 * rng.standard_normal(n) if line.bypass > 0 else np.zeros(n))
    ln_capacity = spread * rng.standard_normal(n)
    capacity = (line.capacity_mmol or 1.0) * np.exp(ln_capacity)
    return Belief(
        ln_capacity=ln_capacity,
        ln_raw=np.log(2.4) + 0.5 * rng.standard_normal(n),
        ln_alk=np.log(2.0) + 0.5 * rng.standard_normal(n),
        ln_k=0.02 * rng.standard_normal(n),
        bypass=np.clip(bypass, 0.0, 0.95),
        load_mmol=capacity * rng.random(n),
        ln_weight=np.zeros(n),
    )


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


def target_of(belief: Belief, kind: CapacityKind) -> Floats:
    """Raw hardness of the kind the medium works on, mmol/L, for every guess."""
    total = np.exp(belief.ln_raw)
    if kind is CapacityKind.CARBONATE:
        return np.minimum(total, np.exp(belief.ln_alk) / 2.0)
    if kind is CapacityKind.CALCIUM:
        return 0.8 * total
    return np.asarray(total)


def removed_share(used: Floats) -> Floats:
    """Share of what is removable that the bed still takes, at used = load / capacity."""
    return np.asarray(1.0 / (1.0 + 0.25 * np.exp(SHAPE * (used - 1.0))))


def pass_litres(belief: Belief, line: LineSetup, litres: float) -> Belief:
    """Load the bed of every guess with these litres (as the stated K-factor counts them)."""
    if line.capacity_mmol is None or litres <= 0.0:
        return msgspec.structs.replace(belief, litres=belief.litres + max(litres, 0.0))
    capacity = line.capacity_mmol * np.exp(belief.ln_capacity)
    through = litres * np.exp(-belief.ln_k) * (1.0 - belief.bypass)
    taken = target_of(belief, line.capacity_kind) * removed_share(belief.load_mmol / capacity)
    return msgspec.structs.replace(
        belief, load_mmol=belief.load_mmol + through * taken, litres=belief.litres + litres
    )


def reweigh(belief: Belief, ln_likelihood: Floats, evidence: int) -> Belief:
    """Weigh the guesses by new evidence (1 conductivity, 2 drop tests) and count what it told."""
    before = shares(belief)
    ln_weight = belief.ln_weight + ln_likelihood
    after = shares(msgspec.structs.replace(belief, ln_weight=ln_weight))
    told = float(np.sum(after * np.log(np.maximum(after, 1e-300) / np.maximum(before, 1e-300))))
    nats = list(belief.nats)
    nats[evidence] += max(told, 0.0)
    return msgspec.structs.replace(
        belief, ln_weight=ln_weight - ln_weight.max(), nats=(nats[0], nats[1], nats[2])
    )


_FIELDS = ("ln_capacity", "ln_raw", "ln_alk", "ln_k", "bypass", "load_mmol")


def refresh(belief: Belief, seed: int) -> Belief:
    """Draw the guesses anew where too few carry the weight, moved a little apart."""
    weights = shares(belief)
    if 1.0 / np.sum(weights**2) > 0.5 * len(weights):
        return belief
    rng = chance(seed, 2 * belief.steps + 1)
    n = len(weights)
    places = np.searchsorted(np.cumsum(weights), (rng.random() + np.arange(n)) / n)
    places = np.minimum(places, n - 1)
    shrink, moved = 0.985, {}
    for name in _FIELDS:
        values: Any = getattr(belief, name)
        mean = float(np.sum(weights * values))
        scatter = float(np.sqrt(np.sum(weights * (values - mean) ** 2)))
        jitter = np.sqrt(1.0 - shrink**2) * scatter * rng.standard_normal(n)
        moved[name] = shrink * values[places] + (1.0 - shrink) * mean + jitter
    moved["bypass"] = np.clip(moved["bypass"], 0.0, 0.95)
    moved["load_mmol"] = np.maximum(moved["load_mmol"], 0.0)
    return msgspec.structs.replace(belief, ln_weight=np.zeros(n), **moved)
