"""What is believed of a line: many weighted guesses at what cannot be seen.

A guess (a particle) is one possible state of cartridge, bypass, meters and water. Columns of the
cloud, one value a guess:

    capacity  ln(true / rated capacity)          life     share of the life to the end that is used
    shape     which curve of the family it is    a_life   litres through the head in a whole life
    depth     relative error of the EC drop      bypass   share that goes round the medium
    wave      how much later (> 0) in life than modelled come the changes before the front
    astray    error of ln(outlet / raw EC25) that grows with life: what the model does not know
    k         ln(true / stated pulses per litre) hard     ln(raw hardness mmol/L) - ec
    ratio     ln(alkalinity / hardness, eq.)     calcium  calcium's share of hardness
    ec        ln(raw EC25), reference probe      ec_var   variance of `ec`
    gain      ln(outlet / reference probe)       gain_var variance of `gain`
    slope     drift of `gain` a day              slope_var, gain_slope: variance and covariance
    free      gain as it would be thought of without any look, free_var its variance
    pace      how fast `expected` moves a day
    noise     error of one look                  wander   daily random step of `gain`
    expected  ln(outlet / raw EC25) without gain, at the last look
    restless  1: the supply keeps changing its mix
    fouled    1: a film grows on the outlet probe, -1: on the inlet probe
    film      by how much (ln) a film makes the inlet probe read low; film_days is how old it is
    unseen    share of the usual that flows while the meter is silent
    meter     1: a shift of the daily litres is the meter's, not the place's

The reference probe is the inlet probe of a pair, else the outlet probe itself. `ec`, `gain` and
`slope` are means of normal distributions that every guess carries along (a Kalman filter in each
guess, `baseline.py`); `shape`, `restless` and `meter` are whole numbers; the others are plain
values.
"""

from __future__ import annotations

import math
from typing import Any, Final

import msgspec
import numpy as np
from numpy.typing import NDArray

from analytics.baseline import Cloud, start_baseline
from analytics.bed import Stand, sees_little, shape_weights
from analytics.past import Past, without_looks
from analytics.samples import Floats, Spread, UtilityReport
from analytics.setup import LineSetup
from analytics.tested import Tested

GUESSES: Final = 2000
WIDER: Final = 1.4
YIELD_SD: Final = 0.065
"""Error of the modelled capacity in this water against the water it was rated with, relative."""
DEPTH: Final = (-0.015, 0.03)
"""Error of the modelled fall of conductivity in the bed, relative, mean and standard deviation:
unknown anions, the model (PHREEQC columns of sixteen waters lie 2 +- 3 % above it)."""
ASTRAY_FAINT_SD: Final = 0.012
WAVE_SD: Final = 0.15
"""Error of where in life sodium and magnesium come through ahead of the front: ln(share of life)
is off by this, relative, so that the end itself stays where it is."""
ASTRAY_SD: Final = 0.006
"""Error of the modelled conductivity ratio at the end of life against a new bed: which anions go
with the cations is not known, and for sodium even the sign of the change hangs on it."""
FIELD_LN: Final = -0.02
"""What a cartridge gives in the field against its plate (common practice, no source)."""
K_SD: Final = 0.018
"""Error of a flow meter's K-factor as stated (common practice, no source)."""
USE_SD: Final = 0.25
"""The same for stated litres a day, where nothing counts them."""
RESTLESS: Final = 0.15
"""How many supplies change their mix by tenths within a cartridge's life (no source)."""

BYPASS_SD: Final = 0.04
"""A bypass is several points off its setting (common practice, no source)."""
FRONT_LIFE: Final = 0.7
FRONT_CHANCE: Final = 0.2
"""From this share of life on a front may show, and how probable that must be to count."""

LITRES, CONDUCTIVITY, DROP_TESTS = 0, 1, 2


class Belief(msgspec.Struct, frozen=True, kw_only=True):
    """The weighted guesses and what goes with them. `steps` also numbers the draws of chance."""

    cloud: Cloud
    ln_weight: NDArray[np.float64]
    stand: Stand | None = None
    steps: int = 0
    ec_known: bool = False
    raw_known: bool = False
    raw_tested: bool = False
    report: UtilityReport | None = None
    started_unknown: bool = True
    """No cartridge was announced as new or as used by a known number of litres."""
    nats: tuple[float, float, float] = (0.35, 0.0, 0.0)
    """Information on the litres left taken from litres, conductivity and drop tests so far."""
    walked_days: float = 0.0
    """Days for which the make-up of the raw water has wandered and was not moved yet."""
    depth_known: bool = False
    """The first ratio of this cartridge has been weighed."""
    quiet_days: float = 0.0
    """Days since both probes were last compared."""
    loose: float = 0.0
    """What more it has wandered, as conductivity moved."""
    litres: float = 0.0
    """Litres through the head since the cartridge was fitted, as the stated K-factor counts."""
    past: Past = Past()
    """Looks of both probes at this cartridge."""
    tested: tuple[Tested, ...] = ()
    """Counts of the last drop tests beside what was expected of them."""


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
        "a_life": np.full(n, math.nan),
        "bypass": bypass_guesses(rng, line.bypass),
        "k": (K_SD if line.flow_meter else USE_SD) * rng.standard_normal(n),
        "ec": np.full(n, np.log(500.0)),
        "ec_var": np.full(n, 0.25),
        "hard": np.log(1.0 / 230.0) + 0.4 * rng.standard_normal(n),
        "ratio": np.log(0.75) + 0.4 * rng.standard_normal(n),
        "calcium": np.clip(0.8 + 0.1 * rng.standard_normal(n), 0.3, 0.99),
        "expected": np.full(n, math.nan),
        "restless": (rng.random(n) < RESTLESS).astype(np.float64),
        "unseen": np.zeros(n),
        "meter": np.zeros(n),
    }
    cloud |= start_baseline(n, line.inlet_probe, rng)
    past = Past(whole=True, water=True, bypass=line.bypass)
    return Belief(cloud=cloud, ln_weight=np.zeros(n), past=past)


def cartridge(line: LineSetup, rng: np.random.Generator) -> Cloud:
    """Guesses at what one cartridge of this kind really is."""
    weights = shape_weights(line.medium)
    return {
        "capacity": capacity_guesses(line, rng),
        "shape": rng.choice(len(weights), GUESSES, p=weights).astype(np.float64),
        "depth": DEPTH[0] + DEPTH[1] * rng.standard_normal(GUESSES),
        "wave": WAVE_SD * rng.standard_normal(GUESSES),
        "astray": (ASTRAY_FAINT_SD if sees_little(line.medium) else ASTRAY_SD)
        * rng.standard_normal(GUESSES),
    }


def capacity_guesses(line: LineSetup, rng: np.random.Generator) -> Floats:
    """ln(true / rated capacity): the maker's scatter, and the model's own error in this water."""
    sd = math.hypot(line.capacity_relative_sd, YIELD_SD)
    return np.asarray(FIELD_LN + sd * even_normals(rng))


def wide_capacity(line: LineSetup, rng: np.random.Generator) -> tuple[Floats, Floats]:
    """Capacity drawn `WIDER` than its prior, and the logarithm of each guess's weight for it."""
    sd, z = math.hypot(line.capacity_relative_sd, YIELD_SD), even_normals(rng)
    ln_weight = 0.5 * z**2 * (1.0 - WIDER**2)
    return np.asarray(FIELD_LN + WIDER * sd * z), np.asarray(ln_weight)


def even_normals(rng: np.random.Generator) -> Floats:
    """Standard normal values that cover the distribution evenly, in random order.

    Where much hangs on one column (capacity), chance must not leave its middle or spread off.
    """
    n = GUESSES
    places = (np.arange(n) + 0.5) / n
    return rng.permutation(normal_quantile(places))


def normal_quantile(share: Floats) -> Floats:
    """Standard normal quantile by Hastings' rational fit, Abramowitz & Stegun 26.2.23 (4.5e-4)."""
    tail = np.minimum(share, 1.0 - share)
    t = np.sqrt(-2.0 * np.log(tail))
    top = 2.515517 + t * (0.802853 + t * 0.010328)
    bottom = 1.0 + t * (1.432788 + t * (0.189269 + t * 0.001308))
    z = t - top / bottom
    return np.asarray(np.where(share < 0.5, -z, z))


def bypass_guesses(rng: np.random.Generator, setting: float) -> Floats:
    """True bypass shares behind a setting."""
    if setting <= 0.0:
        return np.zeros(GUESSES)
    return np.clip(setting + BYPASS_SD * rng.standard_normal(GUESSES), 0.005, 0.95)


def changed(belief: Belief, columns: Cloud, **more: Any) -> Belief:
    """The belief with some columns of its cloud replaced."""
    return msgspec.structs.replace(belief, cloud=belief.cloud | columns, **more)


def shares(belief: Belief) -> Floats:
    """Normalised weights of the guesses."""
    weight = np.exp(belief.ln_weight - belief.ln_weight.max())
    return np.asarray(weight / weight.sum())


def restarted(belief: Belief) -> Past:
    """The past starts anew: what is read from here on hangs together no longer with what was.

    Where the front may have told something already, the new past is not the whole.
    """
    weights = shares(belief)
    front = float(weights @ (belief.cloud["life"] > FRONT_LIFE)) > FRONT_CHANCE
    empty = not len(belief.past.days) and not belief.past.tests
    return without_looks(belief.past, whole=belief.past.whole and (empty or not front))


def spread_of(values: Floats, weights: Floats) -> Spread:
    """Weighted median, 5 and 95 % points."""
    order = np.argsort(values, kind="stable")
    running = np.cumsum(weights[order]) - 0.5 * weights[order]
    p05, p50, p95 = np.interp((0.05, 0.5, 0.95), running, values[order]).tolist()
    return Spread(p50=p50, p05=p05, p95=p95)


def left_of(belief: Belief) -> Floats:
    """Litres through the head to the end, of every guess; negative past it, NaN where no
    capacity is known."""
    return np.asarray((1.0 - belief.cloud["life"]) * belief.cloud["a_life"])


def reweigh(belief: Belief, ln_likelihood: Floats, evidence: int) -> Belief:
    """Weigh the guesses by new evidence and count what it told of the litres left (nats)."""
    before = shares(belief)
    ln_weight = belief.ln_weight + ln_likelihood
    ln_weight = ln_weight - ln_weight.max()
    belief = msgspec.structs.replace(belief, ln_weight=ln_weight)
    told = _told(left_of(belief), before, shares(belief))
    if not math.isfinite(told):
        return belief
    nats = list(belief.nats)
    nats[evidence] += told
    return msgspec.structs.replace(belief, nats=(nats[0], nats[1], nats[2]))


def _told(values: Floats, before: Floats, after: Floats) -> float:
    """Relative entropy (nats) of the normal with these weights' moments over that before."""
    m0, m1 = float(before @ values), float(after @ values)
    v0, v1 = float(before @ (values - m0) ** 2), float(after @ (values - m1) ** 2)
    if not (v0 > 0.0 and v1 > 0.0):
        return 0.0
    return max(0.5 * (math.log(v0 / v1) + (v1 + (m1 - m0) ** 2) / v0 - 1.0), 0.0)


def bounded(cloud: Cloud) -> Cloud:
    """Keep shares inside what is possible."""
    return cloud | {
        "bypass": np.clip(cloud["bypass"], 0.0, 0.95),
        "calcium": np.clip(cloud["calcium"], 0.3, 0.99),
        "life": np.maximum(cloud["life"], 0.0),
    }
