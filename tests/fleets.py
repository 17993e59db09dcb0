"""Simulated fleets of cartridges whose truth is known: kinds, regions, what each one delivered."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from analytics.belief import FIELD_LN, YIELD_SD
from analytics.fleet.capacity_prior import Served
from analytics.samples import Floats, Spread

Z95 = 1.6449
KINDS = {"hydrogen 3": 0.80, "hydrogen 5": 0.97, "magnesium 5": 1.04, "sodium 2": 0.90}
"""What these kinds deliver of their rating in a middling water."""
REGIONS = {"chalk": 0.90, "granite": 1.04, "river": 1.0, "estuary": 0.97}
"""Hard waters take more off than soft ones give back."""
OWN_SD = 0.08
"""Cartridges of one kind in one water among themselves, relative."""
SITE_PRIOR_SD = math.hypot(0.10, YIELD_SD)
"""How wide the rating goes into a site's own estimate."""


class Fleet(NamedTuple):
    """What the service company has on record, and cartridges still to come."""

    served: tuple[Served, ...]
    next_kind: tuple[str, ...]
    next_region: tuple[str, ...]
    next_share: Floats
    """What they will really deliver of their rating."""


def true_share(kind: str, region: str, rng: np.random.Generator) -> float:
    """What one cartridge delivers of its rating; kinds do not feel every water alike."""
    both = 0.02 * np.sin(7.0 * len(kind) + 3.0 * len(region))
    return float(KINDS[kind] * REGIONS[region] * np.exp(both + OWN_SD * rng.standard_normal()))


def fleet(cartridges: int, seed: int, censored: float = 0.3, to_come: int = 200) -> Fleet:
    """A fleet in which a share was taken out before the end, and kinds and regions are uneven."""
    rng = np.random.default_rng([seed, cartridges])
    served = [
        _served(_pick(KINDS, rng), _pick(REGIONS, rng), censored, rng) for _ in range(cartridges)
    ]
    kinds = [_pick(KINDS, rng) for _ in range(to_come)]
    regions = [_pick(REGIONS, rng) for _ in range(to_come)]
    shares = [true_share(k, r, rng) for k, r in zip(kinds, regions, strict=True)]
    return Fleet(tuple(served), tuple(kinds), tuple(regions), np.array(shares))


def _pick(names: dict[str, float], rng: np.random.Generator) -> str:
    odds = np.arange(len(names), 0, -1.0)
    return str(rng.choice(list(names), p=odds / odds.sum()))


def _served(kind: str, region: str, censored: float, rng: np.random.Generator) -> Served:
    truth = true_share(kind, region, rng)
    rated = 640.0
    if rng.random() < censored:  # the calendar or a closing took it out, whatever was left
        out, sd = truth * rng.uniform(0.35, 0.98), 0.03
        return _told(kind, region, rated, np.log(out) + sd * rng.standard_normal(), sd, False)
    sd = float(rng.choice([0.02, 0.04, 0.08, 0.15]))
    measured = np.log(truth) + sd * rng.standard_normal()
    weight = SITE_PRIOR_SD**2 / (SITE_PRIOR_SD**2 + sd**2)
    mean = weight * measured + (1.0 - weight) * FIELD_LN
    return _told(kind, region, rated, mean, sd * np.sqrt(weight), True)


def _told(kind: str, region: str, rated: float, mean: float, sd: float, ended: bool) -> Served:
    """A range as a site tells it: what was measured joined with its own prior of the rating."""
    low, middle, high = (rated * float(np.exp(mean + z * sd)) for z in (-Z95, 0.0, Z95))
    return Served(
        kind=kind,
        region=region,
        rated_mmol=rated,
        delivered=Spread(p05=low, p50=middle, p95=high),
        reached_end=ended,
        stated_sd=0.10,
    )
