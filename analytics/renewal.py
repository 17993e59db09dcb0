"""Capacity and front drawn anew while nothing measured can have told anything about them.

Until the front comes near, outlet water does not depend on how far the bed is used. Capacity and
the sharpness of the front are then independent of all that was measured, and what chance does to
them when guesses are weighed for other reasons is noise. So they are drawn again from their prior
(an independence move of Metropolis and Hastings: new values are taken where the outlet water is
the same under both).
"""

from __future__ import annotations

from functools import lru_cache
from typing import Final

import numpy as np

from analytics.belief import Belief, chance, changed, wide_capacity
from analytics.column import lookup
from analytics.column.curves import GRID
from analytics.column.family import OUTPUTS, CurveFamily
from analytics.guess import raw_of
from analytics.samples import Floats, Ints
from analytics.setup import LineSetup

SLOW_EC: Final = 0.03
"""Outlet conductivity that moves by less than this share of raw water in a life passes for drift
of the probes, or for an error of the model."""
SAME_SHARE: Final = 0.03
"""Outlet hardness moved by less than this share of raw hardness is the same."""
SETTLED: Final = 10
"""Place on the grid whose water the others are held against: a tenth of life."""


@lru_cache(maxsize=16)
def flat_until(family: CurveFamily) -> Floats:
    """Share of life up to which outlet water stays what it was, for (ratio, shape)."""
    table = family.table
    carrier = float(
        family.raw.alkalinity_meq_l
        if family.per_alkalinity
        else 2.0 * (family.raw.ca_mmol_l + family.raw.mg_mmol_l)
    )
    scale = carrier / family.raw_ec25_us_cm
    fall, hardness = OUTPUTS.index("fall"), OUTPUTS.index("hardness")
    calcium = OUTPUTS.index("calcium")

    def moved(output: int) -> Floats:
        return np.asarray(np.abs(table[..., output] - table[..., SETTLED, output][..., None]))

    slope = np.gradient(table[..., fall], GRID, axis=-1) * scale
    off = (np.abs(slope) > SLOW_EC) | (moved(hardness) > SAME_SHARE)
    off |= moved(calcium) > SAME_SHARE
    off[..., : SETTLED // 3] = False
    first = np.where(off.any(axis=-1), np.argmax(off, axis=-1), len(GRID) - 1)
    return np.asarray(GRID[first])


def renew(belief: Belief, line: LineSetup, family: CurveFamily, seed: int) -> Belief:
    """Draw capacity and front anew for every guess whose outlet water stays the same by it.

    For guesses of one weight, as they are after they were drawn. Capacity is drawn wider than its
    prior and weighed for it, so that there are guesses also where the truth seldom lies.
    """
    cloud, rng = belief.cloud, chance(seed, belief.steps, 6)
    shape = cloud["shape"].astype(np.int64)
    ln_ratio = lookup.ln_ratio_of(family, raw_of(belief))
    node = np.argmin(np.abs(ln_ratio[:, None] - family.ln_ratios[None, :]), axis=1)
    front = _other_front(family, shape, rng)
    drawn, ln_weight = wide_capacity(line, rng)
    until = flat_until(family)
    life = cloud["life"] * np.exp(cloud["capacity"] - drawn)
    life *= family.capacity_factor[node, shape] / family.capacity_factor[node, front]
    taken = (cloud["life"] < until[node, shape]) & (life < until[node, front])
    if taken.any():  # among themselves: they carry no more and no less than before
        ln_weight = ln_weight - np.log(np.mean(np.exp(ln_weight[taken])))
    return changed(
        belief,
        {
            "capacity": np.where(taken, drawn, cloud["capacity"]),
            "life": np.where(taken, life, cloud["life"]),
            "shape": np.where(taken, front, shape).astype(np.float64),
        },
        ln_weight=belief.ln_weight + np.where(taken, ln_weight, 0.0),
    )


def _other_front(family: CurveFamily, shape: Ints, rng: np.random.Generator) -> Ints:
    """Another sharpness of the front, by its prior, for the same exchanger."""
    variants = int(family.variant.max()) + 1
    odds = family.weight.reshape(-1, variants).sum(axis=1)
    sharpness = rng.choice(len(odds), len(shape), p=odds / odds.sum())
    return np.asarray(sharpness * variants + family.variant[shape], dtype=np.int64)
