"""Draws from the posterior of a two-way normal model with measured and censored figures.

A partially collapsed Gibbs sampler (van Dyk and Park, J. Am. Stat. Assoc. 103 (2008) 790): the
scatter of single cartridges is drawn with the censored figures integrated out, these are drawn
next, then the effects together, then the widths of the effects. Chains run side by side as rows of
arrays.
"""

from __future__ import annotations

import math
from typing import Final, NamedTuple, TypeAlias

import numpy as np
from numpy.typing import NDArray

from analytics.normal import normal_cdf
from analytics.samples import Floats, Ints

Bools: TypeAlias = NDArray[np.bool_]

CHAINS: Final = 8
SWEEPS: Final = 260
SETTLE: Final = 100
"""Sweeps before a chain is believed."""
MEAN_SD: Final = 0.20
"""How far a whole fleet may be from its ratings (prior, relative)."""
KIND_SD: Final = 0.15
"""Scale of the half-normal prior of how kinds differ; the next ones of regions, of pairs, and of
cartridges among themselves."""
REGION_SD: Final = 0.15
BOTH_SD: Final = 0.07
OWN_SD: Final = 0.15
WIDTHS: Final = np.exp(np.linspace(math.log(0.004), math.log(0.6), 120))
"""Widths that are thought possible."""
STEP: Final = 0.25


class Drawn(NamedTuple):
    """Draws of all chains after they have settled, one a row."""

    mu: Floats
    kinds: Floats
    regions: Floats
    both: Floats
    own_sd: Floats
    region_sd: Floats
    both_sd: Floats
    seen: Bools
    """Which pairs of kind and region there are cartridges of."""


class _Data(NamedTuple):
    """Cartridges sorted by group (kind and region that occur together)."""

    y: Floats
    variance: Floats
    censored: Ints
    group: Ints
    begins: Ints
    kind: Ints
    region: Ints
    design: Floats
    """A row a group: 1, which kind, which region."""


class _Chain(NamedTuple):
    effects: Floats
    """mu, kinds, regions of every chain."""
    both: Floats
    own: Floats
    widths: Floats
    """Of kinds, regions and pairs."""


def draw(
    kind: Ints,
    region: Ints,
    y: Floats,
    sd: Floats,
    censored: Bools,
    rng: np.random.Generator,
    sweeps: int = SWEEPS,
) -> Drawn:
    """Draws given figures `y` with errors `sd`; a censored one is a lower bound."""
    data = _data(kind, region, y, sd, censored)
    chain = _start(data, rng)
    kept: list[_Chain] = []
    for sweep in range(sweeps):
        chain = _sweep(chain, data, rng)
        if sweep >= min(SETTLE, sweeps // 2):
            kept.append(chain)
    return _drawn(kept, data)


def _data(kind: Ints, region: Ints, y: Floats, sd: Floats, censored: Bools) -> _Data:
    kinds, regions = int(kind.max()) + 1, int(region.max()) + 1
    groups, group = np.unique(kind * regions + region, return_inverse=True)
    order = np.argsort(group, kind="stable")
    of_kind, of_region = groups // regions, groups % regions
    design = np.zeros((len(groups), 1 + kinds + regions))
    rows = np.arange(len(groups))
    design[:, 0] = design[rows, 1 + of_kind] = design[rows, 1 + kinds + of_region] = 1.0
    return _Data(
        y=y[order],
        variance=sd[order] ** 2,
        censored=np.flatnonzero(censored[order]),
        group=group[order],
        begins=np.searchsorted(group[order], rows),
        kind=of_kind,
        region=of_region,
        design=design,
    )


def _start(data: _Data, rng: np.random.Generator) -> _Chain:
    """Far apart, so that chains that agree have forgotten where they began."""
    return _Chain(
        effects=0.1 * rng.standard_normal((CHAINS, data.design.shape[1])),
        both=np.zeros((CHAINS, len(data.design))),
        own=np.exp(rng.uniform(math.log(0.03), math.log(0.3), CHAINS)),
        widths=np.exp(rng.uniform(math.log(0.02), math.log(0.3), (CHAINS, 3))),
    )


def _sweep(chain: _Chain, data: _Data, rng: np.random.Generator) -> _Chain:
    middle = (chain.effects @ data.design.T + chain.both)[:, data.group]
    own = _own_sd(chain.own, middle, data, rng)
    y, weight = _figures(middle, own, data, rng)
    weights = np.add.reduceat(weight, data.begins, axis=1)
    sums = np.add.reduceat(weight * y, data.begins, axis=1)
    effects = _effects(chain, weights, sums, data, rng)
    about = effects @ data.design.T
    precision = weights + 1.0 / chain.widths[:, 2:] ** 2
    both = (sums - weights * about) / precision
    both = both + rng.standard_normal(both.shape) / np.sqrt(precision)
    kinds = int(data.kind.max()) + 1
    parts = (effects[:, 1 : 1 + kinds], effects[:, 1 + kinds :], both)
    scales = (KIND_SD, REGION_SD, BOTH_SD)
    widths = [_width(part, scale, rng) for part, scale in zip(parts, scales, strict=True)]
    return _Chain(effects, both, own, np.stack(widths, axis=1))


def _own_sd(own: Floats, middle: Floats, data: _Data, rng: np.random.Generator) -> Floats:
    """One Metropolis step of the scatter of cartridges, on its logarithm, for every chain."""
    tried = own * np.exp(STEP * rng.standard_normal(len(own)))
    better = _ln_likelihood(tried, middle, data) - _ln_likelihood(own, middle, data)
    taken = np.log(rng.random(len(own))) < better
    return np.asarray(np.where(taken & (tried > WIDTHS[0]) & (tried < WIDTHS[-1]), tried, own))


def _ln_likelihood(own: Floats, middle: Floats, data: _Data) -> Floats:
    variance = own[:, None] ** 2 + data.variance
    off = data.y - middle
    ln_each = -0.5 * (off**2 / variance + np.log(variance))
    hidden = data.censored
    above = normal_cdf(-off[:, hidden] / np.sqrt(variance[:, hidden]))
    ln_each[:, hidden] = np.log(np.maximum(above, 1e-300))
    return np.asarray(ln_each.sum(axis=1) - 0.5 * (own / OWN_SD) ** 2 + np.log(own))


def _figures(
    middle: Floats, own: Floats, data: _Data, rng: np.random.Generator
) -> tuple[Floats, Floats]:
    """Figures and their weights: measured ones as they are, censored ones drawn above their
    bounds."""
    mine = own[:, None] ** 2
    y = np.broadcast_to(data.y, middle.shape).copy()
    weight = 1.0 / (mine + data.variance)
    hidden = data.censored
    if len(hidden):
        total = mine + data.variance[hidden]
        gap = middle[:, hidden] - data.y[hidden]
        share = mine / total
        above = _above(-gap / np.sqrt(total), rng) * np.sqrt(total)
        rest = np.sqrt(share * data.variance[hidden]) * rng.standard_normal(above.shape)
        y[:, hidden] = middle[:, hidden] + share * above + rest
        weight[:, hidden] = 1.0 / mine
    return y, weight


def _effects(
    chain: _Chain, weights: Floats, sums: Floats, data: _Data, rng: np.random.Generator
) -> Floats:
    """All effects together, from their normal distribution."""
    kinds, regions = int(data.kind.max()) + 1, int(data.region.max()) + 1
    before = np.repeat(
        np.stack([np.full(CHAINS, MEAN_SD), chain.widths[:, 0], chain.widths[:, 1]], axis=1),
        [1, kinds, regions],
        axis=1,
    )
    precision = data.design.T @ (weights[:, :, None] * data.design)
    places = np.arange(precision.shape[1])
    precision[:, places, places] += before**-2.0
    root = np.linalg.cholesky(precision)
    told = (sums - weights * chain.both) @ data.design
    mean = np.linalg.solve(precision, told[..., None])
    noise = rng.standard_normal(mean.shape)
    return np.asarray((mean + np.linalg.solve(root.transpose(0, 2, 1), noise))[..., 0])


def _width(effects: Floats, scale: float, rng: np.random.Generator) -> Floats:
    """The width of some effects, from the grid, under a half-normal prior of this scale."""
    count = effects.shape[1]
    squares = (effects**2).sum(axis=1)[:, None]
    ln_odds = (1 - count) * np.log(WIDTHS) - 0.5 * squares / WIDTHS**2 - 0.5 * (WIDTHS / scale) ** 2
    odds = np.cumsum(np.exp(ln_odds - ln_odds.max(axis=1, keepdims=True)), axis=1)
    place = (odds < rng.random((len(odds), 1)) * odds[:, -1:]).sum(axis=1)
    return np.asarray(WIDTHS[place])


def _above(least: Floats, rng: np.random.Generator) -> Floats:
    """Standard normal values above `least`, by rejection: plain ones where that is likely, else
    from an exponential (Robert, Stat. Comput. 5 (1995) 121)."""
    flat = least.ravel()
    found = np.empty(len(flat))
    left = np.arange(len(flat))
    while len(left):
        low = flat[left]
        rate = 0.5 * (low + np.sqrt(low**2 + 4.0))
        far = low > 0.4
        tried = np.where(
            far,
            low + rng.exponential(size=len(left)) / np.maximum(rate, 1e-9),
            rng.standard_normal(len(left)),
        )
        odds = np.where(far, np.exp(-0.5 * (tried - rate) ** 2), tried > low)
        taken = rng.random(len(left)) < odds
        found[left[taken]] = tried[taken]
        left = left[~taken]
    return found.reshape(least.shape)


def _drawn(kept: list[_Chain], data: _Data) -> Drawn:
    kinds, regions = int(data.kind.max()) + 1, int(data.region.max()) + 1
    effects = np.concatenate([chain.effects for chain in kept])
    widths = np.concatenate([chain.widths for chain in kept])
    both = np.zeros((len(effects), kinds, regions))
    seen = np.zeros((kinds, regions), dtype=np.bool_)
    seen[data.kind, data.region] = True
    both[:, data.kind, data.region] = np.concatenate([chain.both for chain in kept])
    return Drawn(
        mu=effects[:, 0],
        kinds=effects[:, 1 : 1 + kinds],
        regions=effects[:, 1 + kinds :],
        both=both,
        own_sd=np.concatenate([chain.own for chain in kept]),
        region_sd=widths[:, 1],
        both_sd=widths[:, 2],
        seen=seen,
    )
