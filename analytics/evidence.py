"""What each kind of evidence says about a guess: drop tests, the inlet probe, dated facts."""

from __future__ import annotations

import math

import msgspec
import numpy as np

from analytics.belief import Belief, begin, chance, removed_share, reweigh, target_of
from analytics.samples import (
    AnyEvent,
    BypassSet,
    CartridgeFitted,
    Draws,
    DropTest,
    Floats,
    KFactorSet,
    Point,
    UtilityReport,
)
from analytics.setup import CapacityKind, LineSetup

RAW_WALK_PER_DAY = 0.006
"""Daily change of raw hardness, relative (one standard deviation; common practice, no source)."""
OPERATOR_DROPS = 0.30
"""Error of the person who counts, in drops; now and then a whole drop is missed."""
SLIP = 0.03


def normal_cdf(z: Floats) -> Floats:
    """Standard normal distribution function by Abramowitz & Stegun 26.2.17 (error < 7.5e-8)."""
    t = 1.0 / (1.0 + 0.2316419 * np.abs(z))
    poly = t * (
        0.319381530 + t * (-0.356563782 + t * (1.781477937 + t * (-1.821255978 + t * 1.330274429)))
    )
    tail = np.exp(-0.5 * z**2) / math.sqrt(2.0 * math.pi) * poly
    return np.asarray(np.where(z >= 0, 1.0 - tail, tail))


def interval_ln_likelihood(truth: Floats, reading: float, step: float) -> Floats:
    """Log probability of counting this many drops: the truth lies in (reading - step, reading],
    blurred by the operator's error, with a small chance of a slip by one drop."""
    sd = OPERATOR_DROPS * step

    def within(shift: float) -> Floats:
        upper = normal_cdf((reading + shift - truth) / sd)
        return np.asarray(upper - normal_cdf((reading + shift - step - truth) / sd))

    chance_of = (1.0 - SLIP) * within(0.0) + 0.5 * SLIP * (within(step) + within(-step))
    return np.log(np.maximum(chance_of, 1e-6))


def take_event(belief: Belief, line: LineSetup, event: AnyEvent, seed: int) -> Belief:
    """What a dated fact changes."""
    match event:
        case DropTest():
            return _take_drop_test(belief, line, event)
        case UtilityReport():
            return _take_report(belief, event)
        case CartridgeFitted():
            return _take_cartridge(belief, line, event, seed)
        case BypassSet():
            rng = chance(seed, 2 * belief.steps + 2)
            spread = 0.04 * rng.standard_normal(len(belief.bypass)) if event.share > 0 else 0.0
            bypass = np.clip(event.share + spread + np.zeros(len(belief.bypass)), 0.0, 0.95)
            return msgspec.structs.replace(belief, bypass=bypass)
        case KFactorSet():
            rng = chance(seed, 2 * belief.steps + 2)
            off = math.log(event.pulses_per_l / line.pulses_per_l)
            ln_k = off + event.relative_sd * rng.standard_normal(len(belief.ln_k))
            return msgspec.structs.replace(belief, ln_k=ln_k)
        case _:
            return belief


def _take_cartridge(belief: Belief, line: LineSetup, event: CartridgeFitted, seed: int) -> Belief:
    """A cartridge was fitted: new, part used by a stated amount, or of unknown use."""
    fresh = begin(line, seed + belief.steps + 1)
    kept = msgspec.structs.replace(
        belief,
        ln_capacity=fresh.ln_capacity,
        load_mmol=fresh.load_mmol,
        litres=0.0,
        nats=(1.0, 0.0, 0.0),
    )
    if event.litres_before is None:
        return kept
    rng = chance(seed, 2 * belief.steps + 2)
    scatter = event.litres_before_sd * rng.standard_normal(len(belief.load_mmol))
    through = np.maximum(event.litres_before + scatter, 0.0) * (1.0 - belief.bypass)
    return msgspec.structs.replace(kept, load_mmol=through * target_of(belief, line.capacity_kind))


def blended_target(belief: Belief, line: LineSetup) -> Floats:
    """Hardness of the medium's kind in the blended water, mmol/L."""
    return target_of(belief, line.capacity_kind) * (
        belief.bypass + (1.0 - belief.bypass) * (1.0 - treated_share(belief, line))
    )


def treated_share(belief: Belief, line: LineSetup) -> Floats:
    """Removed share of the kind in treated water; 0 where no capacity is stated."""
    if line.capacity_mmol is None:
        return np.zeros(len(belief.load_mmol))
    return removed_share(belief.load_mmol / (line.capacity_mmol * np.exp(belief.ln_capacity)))


def _take_drop_test(belief: Belief, line: LineSetup, test: DropTest) -> Belief:
    if test.point is Point.RAW:
        return _take_raw_test(belief, test)
    kind = line.capacity_kind
    bypass = belief.bypass if test.point is Point.BLENDED else np.zeros(len(belief.bypass))
    left = bypass + (1.0 - bypass) * (1.0 - treated_share(belief, line))
    ln_likelihood = np.zeros(len(bypass))
    if kind is CapacityKind.TOTAL and test.hardness_mmol_l is not None:
        value, step = test.hardness_mmol_l, test.hardness_step_mmol_l
        ln_likelihood = interval_ln_likelihood(np.exp(belief.ln_raw) * left, value, step)
    elif kind is CapacityKind.CARBONATE and test.alkalinity_meq_l is not None:
        removed = 2.0 * target_of(belief, kind) * (1.0 - left)
        value, step = test.alkalinity_meq_l, test.alkalinity_step_meq_l
        ln_likelihood = interval_ln_likelihood(np.exp(belief.ln_alk) - removed, value, step)
    elif kind is CapacityKind.CALCIUM and test.calcium_mmol_l is not None:
        value, step = test.calcium_mmol_l, test.calcium_step_mmol_l
        truth = target_of(belief, kind) * left
        ln_likelihood = interval_ln_likelihood(truth, value, step)
    return reweigh(belief, ln_likelihood, 2)


def _take_raw_test(belief: Belief, test: DropTest) -> Belief:
    ln_likelihood = np.zeros(len(belief.ln_raw))
    if test.hardness_mmol_l is not None:
        ln_likelihood = ln_likelihood + interval_ln_likelihood(
            np.exp(belief.ln_raw), test.hardness_mmol_l, test.hardness_step_mmol_l
        )
    if test.alkalinity_meq_l is not None:
        ln_likelihood = ln_likelihood + interval_ln_likelihood(
            np.exp(belief.ln_alk), test.alkalinity_meq_l, test.alkalinity_step_meq_l
        )
    return msgspec.structs.replace(reweigh(belief, ln_likelihood, 2), raw_known=True)


def _take_report(belief: Belief, report: UtilityReport) -> Belief:
    ln_likelihood = np.zeros(len(belief.ln_raw))
    for value, column in (
        (report.hardness_mmol_l, belief.ln_raw),
        (report.alkalinity_meq_l, belief.ln_alk),
    ):
        if value:
            z = (column - math.log(value)) / report.relative_sd
            ln_likelihood = ln_likelihood - 0.5 * z**2
    return msgspec.structs.replace(reweigh(belief, ln_likelihood, 2), raw_known=True)


def drift(belief: Belief, days: float, draws: Draws, seed: int) -> Belief:
    """Let the raw water wander, and follow the inlet probe where there is one."""
    rng = chance(seed, 2 * belief.steps + 2)
    seen = draws.inlet_ec25_us_cm[np.isfinite(draws.inlet_ec25_us_cm)]
    walk = RAW_WALK_PER_DAY * math.sqrt(max(days, 0.0))
    moved, inlet = 0.0, belief.inlet_ec25
    if len(seen):
        now = float(np.median(seen))
        if math.isfinite(inlet):
            smooth = inlet + 0.25 * (now - inlet)
            moved, walk = math.log(smooth / inlet), 0.3 * walk
            inlet = smooth
        else:
            inlet = now
    step = moved + walk * rng.standard_normal(len(belief.ln_raw))
    return msgspec.structs.replace(
        belief, ln_raw=belief.ln_raw + step, ln_alk=belief.ln_alk + step, inlet_ec25=inlet
    )
