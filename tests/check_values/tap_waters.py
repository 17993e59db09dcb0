"""Tap waters to try methods on: the four named ones, and a repeatable random crowd."""

from __future__ import annotations

import numpy as np

from analytics.chemistry.water import Water, balanced, per_kg_water, water

FOUR: dict[str, tuple[float, Water]] = {
    "W1 soft": (
        7.2,
        per_kg_water(ca=0.25, mg=0.10, na=0.40, k=0.05, cl=0.40, so4=0.10, alkalinity=0.55),
    ),
    "W2 medium": (
        7.8,
        per_kg_water(ca=1.25, mg=0.40, na=0.60, k=0.05, cl=0.75, so4=0.35, alkalinity=2.5),
    ),
    "W3 hard chalk": (
        7.3,
        per_kg_water(
            ca=2.75, mg=0.20, na=0.60, k=0.10, cl=0.80, so4=0.30, no3=0.40, alkalinity=4.8
        ),
    ),
    "W4 hard sulphate": (
        7.6,
        per_kg_water(ca=3.0, mg=1.2, na=1.5, k=0.10, cl=1.6, so4=2.6, alkalinity=3.2),
    ),
}
"""pH at 25 C and the water; given per kilogram of water."""


def random_waters(count: int, seed: int) -> tuple[Water, np.ndarray]:
    """Balanced tap waters from soft moorland to hard gypsum, with a pH each."""
    rng = np.random.default_rng(seed)
    alkalinity = np.exp(rng.uniform(np.log(0.3), np.log(6.5), count))
    hardness_of_alkalinity = alkalinity * rng.uniform(0.55, 1.05, count) / 2
    magnesium = hardness_of_alkalinity * rng.uniform(0.03, 0.4, count)
    sulphate = np.exp(rng.uniform(np.log(0.03), np.log(3.0), count))
    gypsum = sulphate * rng.uniform(0.2, 0.9, count)
    made = water(
        ca=hardness_of_alkalinity - magnesium + gypsum,
        mg=magnesium + rng.uniform(0, 0.3, count) * sulphate,
        na=np.exp(rng.uniform(np.log(0.1), np.log(3.0), count)),
        k=rng.uniform(0.01, 0.2, count),
        cl=np.exp(rng.uniform(np.log(0.1), np.log(2.5), count)),
        so4=sulphate,
        no3=rng.uniform(0.0, 0.6, count),
        alkalinity=alkalinity,
    )
    return balanced(made), rng.uniform(6.8, 8.3, count)
