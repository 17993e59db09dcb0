"""Capacity drawn anew while nothing measured can have told anything about it.

Until the front comes near, outlet water does not depend on how far the bed is used. Capacity is
then independent of all that was measured, and what chance does to it when guesses are weighed for
other reasons is noise. So it is drawn again from its prior (an independence move of Metropolis and
Hastings: a new value is taken where the outlet water is the same under both).
"""

from __future__ import annotations

from functools import lru_cache
from typing import Final

import numpy as np

from analytics.belief import Belief, capacity_guesses, chance, changed
from analytics.column import lookup
from analytics.column.curves import GRID
from analytics.column.family import OUTPUTS, CurveFamily
from analytics.guess import raw_of
from analytics.samples import Floats
from analytics.setup import LineSetup

SAME_EC: Final = 0.003
"""Outlet conductivity moved by less than this share of raw water is the same."""
SAME_SHARE: Final = 0.02
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

    off = (moved(fall) * scale > SAME_EC) | (moved(hardness) > SAME_SHARE)
    off |= moved(calcium) > SAME_SHARE
    off[..., : SETTLED // 3] = False
    first = np.where(off.any(axis=-1), np.argmax(off, axis=-1), len(GRID) - 1)
    return np.asarray(GRID[first])


def renew(belief: Belief, line: LineSetup, family: CurveFamily, seed: int) -> Belief:
    """Draw the capacity of every guess anew whose outlet water stays the same by it."""
    cloud = belief.cloud
    shape = cloud["shape"].astype(np.int64)
    ln_ratio = lookup.ln_ratio_of(family, raw_of(belief))
    node = np.argmin(np.abs(ln_ratio[:, None] - family.ln_ratios[None, :]), axis=1)
    flat = flat_until(family)[node, shape]
    drawn = capacity_guesses(line, chance(seed, belief.steps, 6))
    life = cloud["life"] * np.exp(cloud["capacity"] - drawn)
    taken = (cloud["life"] < flat) & (life < flat)
    return changed(
        belief,
        {
            "capacity": np.where(taken, drawn, cloud["capacity"]),
            "life": np.where(taken, life, cloud["life"]),
        },
    )
