"""What cartridges really deliver, by type and raw-water region: the prior of the next site.

ln(delivered / rated) of a cartridge is taken as

    y = mu + a(type) + b(region) + c(type, region) + cartridge's own scatter

where a, b and c are normal about nothing, each as wide as the fleet itself shows it to be: where a
type has few cartridges its figure is drawn towards that of the others (shrinkage), and only many
agreeing cartridges move it (empirical Bayes; Efron and Morris, J. Am. Stat. Assoc. 70 (1975) 311;
Gelman et al., Bayesian Data Analysis, 3rd ed., ch. 5). A cartridge that was taken out before its
end says only that it would have delivered more: it enters as censored, never as its litres.

The widths are not set at their best values but drawn with all else (Gibbs sampling, several chains
at once), so that what is not known about them widens the prior as it should.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

import msgspec
import numpy as np

from analytics.belief import FIELD_LN, YIELD_SD
from analytics.fleet.sampled import SWEEPS, Drawn, draw
from analytics.samples import Spread

Z95: Final = 1.6449
RATED_SD: Final = 0.10
"""How far a cartridge is from its rating where nothing was learnt, relative (common practice; the
default of a site file)."""
NARROWEST: Final = 0.03
"""No prior is narrower: what a maker's own production scatters at least (common practice)."""
SAYS_NOTHING: Final = 0.97
"""A range this near to that of its own prior says nothing of the cartridge."""


class Served(msgspec.Struct, frozen=True, kw_only=True):
    """A cartridge that served: what it delivered, in mmol of the hardness its rating counts.

    `delivered` is up to its end where `reached_end`, else up to its removal (a lower bound); or,
    where `believed`, what the site thinks it holds in all, which needs no end. `rated_mmol` is the
    same for all cartridges of a kind. `stated_mmol` and `stated_sd` are what the site was told to
    expect, relative (a rating, or a prior learnt earlier): it went into the range before anything
    was measured and is taken out again, lest the fleet learns from itself. Without a `stated_sd`
    the range is a measurement by itself.
    """

    kind: str
    """Medium and size: what is ordered under one number."""
    region: str
    rated_mmol: float
    delivered: Spread
    reached_end: bool
    believed: bool = False
    stated_mmol: float | None = None
    stated_sd: float | None = None


class CapacityPrior(msgspec.Struct, frozen=True, kw_only=True):
    """What a new cartridge of a kind in a region is expected to deliver, as a share of its rating.

    `share` is the range for one cartridge, `relative_sd` its width as the site file has it,
    `mean_sd` how well the group's own middle is known. `ended` and `taken_early` count cartridges
    of this kind and region. An empty region stands for one nobody has served in yet.
    """

    kind: str
    region: str
    share: Spread
    relative_sd: float
    mean_sd: float
    ended: int
    taken_early: int


class Learnt(msgspec.Struct, frozen=True, kw_only=True):
    """Priors by kind and region, and what they rest on; `left_out` ranges said nothing or cannot
    be (a rating of nothing, a figure that is no number)."""

    priors: tuple[CapacityPrior, ...]
    cartridges: int
    left_out: int

    def of(self, kind: str, region: str) -> CapacityPrior | None:
        """The prior for a kind in a region, in any region where that one is new; None for a kind
        nobody has seen."""
        found = {(prior.kind, prior.region): prior for prior in self.priors}
        return found.get((kind, region)) or found.get((kind, ""))


def rated_prior(kind: str, region: str) -> CapacityPrior:
    """What is believed before anything was learnt: the rating, give or take a tenth."""
    return _prior(kind, region, 0.0, RATED_SD**2, RATED_SD**2, (0, 0))


def learn(served: Sequence[Served], rng: np.random.Generator, sweeps: int = SWEEPS) -> Learnt:
    """The priors a fleet's cartridges lead to; the same cartridges and `rng` give the same."""
    told = [(each, evidence) for each in served if (evidence := evidence_of(each)) is not None]
    if not told:
        return Learnt(priors=(), cartridges=0, left_out=len(served))
    kinds = sorted({each.kind for each, _ in told})
    regions = sorted({each.region for each, _ in told})
    drawn = draw(
        np.array([kinds.index(each.kind) for each, _ in told]),
        np.array([regions.index(each.region) for each, _ in told]),
        np.array([y for _, (y, _) in told]),
        np.array([sd for _, (_, sd) in told]),
        np.array([not (each.reached_end or each.believed) for each, _ in told]),
        rng,
        sweeps,
    )
    counts = _counts([each for each, _ in told])
    places: list[tuple[int | None, str]] = [*enumerate(regions), (None, "")]
    if regions[0] == "":  # cartridges whose region nobody told stand for no region
        del places[0]
    priors = [
        _prior(kind, region, *_new_cartridge(drawn, i, j), counts.get((kind, region), (0, 0)))
        for i, kind in enumerate(kinds)
        for j, region in places
    ]
    return Learnt(priors=tuple(priors), cartridges=len(told), left_out=len(served) - len(told))


def evidence_of(cartridge: Served) -> tuple[float, float] | None:
    """ln(delivered / rated) and its standard deviation as measured; None where nothing is told.

    A range that came of a prior N(m, p) and a measurement N(y, s) has the precision 1/p2 + 1/s2 and
    the mean weighed by it; both are undone here. The prior is the estimate's own.
    """
    low, middle, high = cartridge.delivered.p05, cartridge.delivered.p50, cartridge.delivered.p95
    figures = (cartridge.rated_mmol, low, middle, high)
    if not all(math.isfinite(each) for each in figures) or min(cartridge.rated_mmol, middle) <= 0.0:
        return None
    y = math.log(middle / cartridge.rated_mmol)
    sd = max(math.log(high / max(low, 0.01 * middle)) / (2.0 * Z95), 1e-3)
    if cartridge.stated_sd is None or not (cartridge.reached_end or cartridge.believed):
        return y, sd
    stated = cartridge.stated_mmol or cartridge.rated_mmol
    before = math.log(stated / cartridge.rated_mmol) + FIELD_LN
    share = (sd / math.hypot(cartridge.stated_sd, YIELD_SD)) ** 2
    if share >= SAYS_NOTHING**2:
        return None
    return (y - share * before) / (1.0 - share), sd / math.sqrt(1.0 - share)


def as_stated(prior: CapacityPrior, rated_mmol: float) -> tuple[float, float]:
    """Capacity (mmol) and its spread as a site file is to state them, so that the estimate begins
    with this prior: it takes some off for the field and adds its own error by itself."""
    spread = math.sqrt(max(prior.relative_sd**2 - YIELD_SD**2, NARROWEST**2))
    return rated_mmol * prior.share.p50 * math.exp(-FIELD_LN), spread


def _new_cartridge(drawn: Drawn, kind: int, region: int | None) -> tuple[float, float, float]:
    """Mean, variance of a new cartridge, and variance of the group's middle."""
    middle = drawn.mu + drawn.kinds[:, kind]
    if region is None:
        elsewhere = drawn.region_sd**2 + drawn.both_sd**2
    else:
        middle = middle + drawn.regions[:, region] + drawn.both[:, kind, region]
        elsewhere = drawn.both_sd**2 if not drawn.seen[kind, region] else np.zeros(len(middle))
    off = float(middle.var()) + float(elsewhere.mean())
    return float(middle.mean()), off + float((drawn.own_sd**2).mean()), off


def _prior(
    kind: str, region: str, mean: float, variance: float, off: float, counts: tuple[int, int]
) -> CapacityPrior:
    sd = max(math.sqrt(variance), NARROWEST)
    low, middle, high = (math.exp(mean + z * sd) for z in (-Z95, 0.0, Z95))
    return CapacityPrior(
        kind=kind,
        region=region,
        share=Spread(p05=low, p50=middle, p95=high),
        relative_sd=sd,
        mean_sd=math.sqrt(off),
        ended=counts[0],
        taken_early=counts[1],
    )


def _counts(served: list[Served]) -> dict[tuple[str, str], tuple[int, int]]:
    found: dict[tuple[str, str], tuple[int, int]] = {}
    for each in served:
        ended, early = found.get((each.kind, each.region), (0, 0))
        found[each.kind, each.region] = (ended + each.reached_end, early + (not each.reached_end))
    return found
