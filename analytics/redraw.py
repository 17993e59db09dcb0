"""Guesses drawn anew where too few carry the weight, and moved a little apart.

What a guess takes for fixed (capacity, bypass, make-up of the water ...) is moved by a little noise
(Liu & West 2001, Combined parameter and state estimation in simulation-based filtering). Litres
that have passed stay passed: the share of life that is used moves against the litres of a whole
life. Readings that were explained stay explained: what the modelled ratio moves by is taken over by
the gain, at the price of how likely that gain is in itself.
"""

from __future__ import annotations

import math
from typing import Final

import msgspec
import numpy as np

from analytics.baseline import STEADY, Cloud, moved_over, other_levels
from analytics.belief import Belief, bounded, chance, changed, left_of, shares
from analytics.column.family import CurveFamily
from analytics.guess import ln_outlet_over_raw, outlook, with_lives
from analytics.renewal import renew
from analytics.retrial import can_be_tried, tried_again
from analytics.samples import Floats
from analytics.setup import LineSetup

SMALL_WEIGHT: Final = 0.3
"""Guesses are drawn anew when fewer than this share of them carry the weight."""
SHRINK: Final = 0.985
"""How far drawn guesses keep their own values: the rest is noise, so that the spread stays."""
MIXED_IN: Final = 64
"""Guesses whose distances from the middle make up the noise."""
MOVED: Final = ("capacity", "depth", "wave", "astray", "bypass", "k", "hard", "ratio", "calcium")
WATER_MOVED: Final = ("bypass", "k", "hard", "ratio", "calcium")
LONE_MOVED: Final = (*MOVED, "ec", "gain", "slope")
"""Columns that are moved when guesses are drawn anew, with two probes and with one."""
HARD_A_DAY: Final = 0.0022
CALCIUM_A_DAY: Final = 0.0008
"""Daily random steps of hardness per conductivity and of calcium's share (no source)."""
MOST_A_DAY: Final = 0.004
"""Alkalinity per conductivity wanders as the ratio of the probes does, by no more than this."""
AT_REST: Final = 0.4
"""Where the probes' ratio is steady, the rest of the water is steadier, too."""
RESTLESS_TIMES: Final = 2.5
"""How much more the composition of a restless supply moves."""
WALKED_DAYS: Final = 6.0
"""Water that walked for this long is moved even where no guess need be drawn anew."""


def drawn_anew(belief: Belief, line: LineSetup, family: CurveFamily | None, seed: int) -> Belief:
    """The belief with its guesses spread over what is still possible."""
    weights = shares(belief)
    poor = bool(1.0 / np.sum(weights**2) <= SMALL_WEIGHT * len(weights))
    if not poor and belief.walked_days < WALKED_DAYS:
        return belief
    rng = chance(seed, belief.steps, 1)
    if poor:
        belief = _picked(belief, weights, rng)
    before = _expected(belief, line, family)
    belief = _water_moved(belief, rng)
    after = _expected(belief, line, family)
    if before is not None and after is not None:
        belief = _followed(belief, after - before)
    if not poor:
        return belief
    again = family is not None and can_be_tried(belief, line)
    if again and belief.past.water and family is not None:
        return tried_again(with_lives(belief, line, family), line, family, seed)
    belief = _moved_apart(belief, line, family, rng, WATER_MOVED if again else MOVED)
    if family is not None and not belief.started_unknown and not again:
        belief = renew(belief, line, family, seed)
    belief = with_lives(belief, line, family)
    moved = _expected(belief, line, family)
    if moved is not None and after is not None:
        belief = _explained(belief, moved - after)
    return tried_again(belief, line, family, seed) if again and family is not None else belief


def _expected(belief: Belief, line: LineSetup, family: CurveFamily | None) -> Floats | None:
    if family is None or not (line.inlet_probe and line.outlet_probe and belief.ec_known):
        return None
    return ln_outlet_over_raw(belief, family, outlook(belief, family))


def followed(belief: Belief, line: LineSetup, before: CurveFamily, after: CurveFamily) -> Belief:
    """Other curves for about the same water: the baseline stays where the readings have it."""
    if not math.isfinite(float(belief.cloud["expected"][0])):
        return belief
    old, new = _expected(belief, line, before), _expected(belief, line, after)
    return belief if old is None or new is None else _followed(belief, new - old)


def _followed(belief: Belief, shift: Floats) -> Belief:
    """Another make-up of the water is part of the way the baseline has gone already."""
    cloud = belief.cloud
    columns = {name: cloud[name] - shift for name in ("gain", "free")}
    return changed(belief, columns | {"expected": cloud["expected"] + shift})


def _explained(belief: Belief, shift: Floats) -> Belief:
    columns, odds = moved_over(belief.cloud, shift)
    columns["expected"] = belief.cloud["expected"] + shift
    ln_weight = belief.ln_weight + odds
    return changed(belief, columns, ln_weight=ln_weight - ln_weight.max())


def _picked(belief: Belief, weights: Floats, rng: np.random.Generator) -> Belief:
    """Guesses picked by weight in the order of their litres left, at even distances, so that the
    distribution of what matters comes through almost unchanged however often this is done."""
    n = len(weights)
    left = left_of(belief)
    order = np.argsort(np.where(np.isfinite(left), left, belief.cloud["capacity"]), kind="stable")
    running = np.cumsum(weights[order])
    places = np.searchsorted(running, (rng.random() + np.arange(n)) / n * running[-1])
    places = order[np.minimum(places, n - 1)]
    picked = {name: values[places] for name, values in belief.cloud.items()}
    return changed(belief, picked, ln_weight=np.zeros(n))


def _moved_apart(
    belief: Belief,
    line: LineSetup,
    family: CurveFamily | None,
    rng: np.random.Generator,
    fixed: tuple[str, ...] = MOVED,
) -> Belief:
    """A little noise for what is fixed, correlated as guesses of one weight are."""
    cloud = belief.cloud
    names = fixed if line.inlet_probe else LONE_MOVED
    values = np.array([cloud[name] for name in names])
    apart = values - values.mean(axis=1, keepdims=True)
    # noise that hangs together as the guesses do: a sum of them with random weights
    mixing = rng.standard_normal((MIXED_IN, values.shape[1]))
    which = rng.integers(0, values.shape[1], MIXED_IN)
    jitter = apart[:, which] @ mixing / math.sqrt(MIXED_IN)
    values = values + math.sqrt(1.0 - SHRINK**2) * jitter - (1.0 - SHRINK) * apart
    moved: Cloud = dict(zip(names, values, strict=True))
    if line.inlet_probe:
        moved |= other_levels(cloud, rng)
    old = with_lives(belief, line, family).cloud["a_life"]
    belief = changed(belief, bounded(cloud | moved))
    new = with_lives(belief, line, family).cloud["a_life"]
    if not math.isfinite(float(new[0])):
        return belief
    life = belief.cloud["life"] * old / np.maximum(new, 1e-6)
    return changed(belief, {"life": np.minimum(life, 3.0)})


def _water_moved(belief: Belief, rng: np.random.Generator) -> Belief:
    """The make-up of the raw water wandered since it was last moved."""
    if belief.walked_days <= 0.0:
        return belief
    cloud, n = belief.cloud, len(belief.ln_weight)
    more = 1.0 + (RESTLESS_TIMES - 1.0) * cloud["restless"]
    more = more * np.where(cloud["wander"] < STEADY, AT_REST, 1.0)
    root = math.sqrt(belief.walked_days)
    harder = np.hypot(HARD_A_DAY * root * more, belief.loose) * rng.standard_normal(n)
    alkaline = np.minimum(2.0 * cloud["wander"], MOST_A_DAY) * root * rng.standard_normal(n)
    calcium = cloud["calcium"] + CALCIUM_A_DAY * root * more * rng.standard_normal(n)
    columns = {
        "hard": cloud["hard"] + harder,
        "ratio": cloud["ratio"] - harder + alkaline,
        "calcium": np.clip(calcium, 0.3, 0.99),
    }
    belief = msgspec.structs.replace(belief, walked_days=0.0, loose=0.0)
    return changed(belief, columns)
