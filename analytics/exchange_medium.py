"""Media that work by ion exchange: their exchanger, the shapes a bed may have, and its curves."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

import msgspec
import numpy as np

from analytics.chemistry.water import Water, balanced, stacked, unstacked
from analytics.column.curves import GRID, Curves, breakthrough_curves, treated_water
from analytics.column.exchanger import Exchanger
from analytics.column.family import CurveFamily, curve_family
from analytics.medium import (
    Caution,
    Contrast,
    EndsBy,
    Medium,
    acid,
    chloride,
    faint,
)
from analytics.samples import Floats, Spread
from analytics.setup import CapacityKind

FRESH: Final = 5
"""Place on the grid that stands for a new bed: a twentieth of life, past its first litres."""
SPREAD_NODES: Final = (0.05, 0.07, 0.095, 0.125, 0.16, 0.21)


class ShapePriors(msgspec.Struct, frozen=True, kw_only=True):
    """What is thought beforehand of the shape of a bed's curve.

    `variants` are exchangers with weights; the widest of them bound fresh leakage. `spread` is the
    standard deviation of ln velocity over the bed's streams: median, and standard deviation of its
    own logarithm. The default says 5-95 % of beds lie between 0.05 and 0.21 (common practice, no
    source: fronts of packed beds a few decimetres deep).
    """

    variants: tuple[tuple[Exchanger, float], ...]
    spread_median: float = 0.10
    spread_ln_sd: float = 0.38

    def spreads(self) -> tuple[tuple[float, float], ...]:
        """Spreads that stand for the prior, with weights that sum to 1."""
        away = np.log(np.array(SPREAD_NODES) / self.spread_median) / self.spread_ln_sd
        cell = np.gradient(np.log(SPREAD_NODES))
        weight = np.exp(-0.5 * away * away) * cell
        return tuple(zip(SPREAD_NODES, (weight / weight.sum()).tolist(), strict=True))

    @property
    def middle(self) -> Exchanger:
        """The variant with the greatest weight."""
        return max(self.variants, key=lambda pair: pair[1])[0]


def _pairs(at: Floats, curves: Floats) -> list[tuple[float, Floats, Floats]]:
    return [(float(place), GRID, curve) for place, curve in zip(at, curves, strict=True)]


class ExchangeMedium(Medium, frozen=True, kw_only=True):
    """A medium that swaps ions. `capacity_kind` is always set, and `also` adds its own cautions
    from raw water and water behind a new bed."""

    shape_priors: ShapePriors
    ends_by: EndsBy = EndsBy.HARDNESS_RETURNS
    also: Callable[[Water, Water], tuple[Caution, ...]] | None = None

    @property
    def kind(self) -> CapacityKind:
        """Hardness the capacity is counted in."""
        return self.capacity_kind or CapacityKind.TOTAL

    def curves(self, raw: Water, *, bypass: float = 0.0) -> Curves:
        """Breakthrough curves of the middle shape, a variant for each raw water."""
        return breakthrough_curves(
            [self.shape_priors.middle],
            raw,
            kind=self.kind,
            spread=self.shape_priors.spread_median,
            bypass=bypass,
        )

    def family(self, raw: Water, *, bypass: float = 0.0, end_share: float = 0.2) -> CurveFamily:
        """Curves of every shape for one raw water: what an estimator filters over."""
        return curve_family(
            self.shape_priors.variants,
            self.shape_priors.spreads(),
            raw,
            kind=self.kind,
            bypass=bypass,
            end_share=end_share,
        )

    def treated(self, raw: Water, used: float | Floats = 0.0) -> Water:
        """Water behind the bed of middle shape at a share of life used.

        One water with one or many shares, or a row of waters with one share each (or one for
        all). A new bed's water is taken after its first litres, at a twentieth of its life.
        """
        curves = self.curves(raw)
        rows = stacked(treated_water(raw, curves.cations, curves.alkalinity))
        at = np.maximum(np.asarray(used, dtype=np.float64), GRID[FRESH])
        if raw.shape == ():
            return unstacked(np.array([np.interp(at, GRID, row[0]) for row in rows]))
        each = np.broadcast_to(at, raw.shape)
        found = [[np.interp(*pair) for pair in _pairs(each, row)] for row in rows]
        return unstacked(np.array(found))

    def leakage(self, raw: Water) -> Spread:
        """Fresh treated over raw hardness of the medium's kind (one water): median, 5-95 %."""
        exchangers = [exchanger for exchanger, _ in self.shape_priors.variants]
        weights = np.array([weight for _, weight in self.shape_priors.variants])
        found = breakthrough_curves(
            exchangers, raw, kind=self.kind, spread=self.shape_priors.spread_median
        ).leakage
        order = np.argsort(found)
        running = np.cumsum(weights[order]) / weights.sum()
        p05, p50, p95 = np.interp((0.05, 0.5, 0.95), running - running[0] / 2, found[order])
        return Spread(p05=float(p05), p50=float(p50), p95=float(p95))

    def contrast(self, raw: Water) -> Contrast:
        """What conductivity sees of this medium with this (single) water."""
        return _contrast(self.curves(raw))

    def cautions(self, raw: Water) -> tuple[Caution, ...]:
        """What to know before using this medium with this (single) water."""
        even = balanced(raw)
        curves = self.curves(even)
        fresh = treated_water(even, *(each[..., FRESH] for each in _behind(curves)))
        own = self.also(even, fresh) if self.also is not None else ()
        sour = acid(float(curves.ph[0, FRESH]), float(fresh.alkalinity_meq_l.ravel()[0]))
        return (*own, *sour, *chloride(even), *faint(_contrast(curves)), *self.standing)


def _behind(curves: Curves) -> tuple[Floats, Floats]:
    return curves.cations[:, 0, :], curves.alkalinity[0]


def _contrast(curves: Curves) -> Contrast:
    """Contrast of the first variant; 'fresh' is the median of the first fifth of life."""
    ec_pct = 100.0 * curves.ec25_us_cm[0] / curves.raw_ec25_us_cm[0]
    fresh = float(np.median(ec_pct[(GRID >= 0.05) & (GRID <= 0.2)]))
    tenth, end = np.interp((0.9, 1.0), GRID, ec_pct).tolist()
    return Contrast(
        fresh_pct=fresh - 100.0,
        rise_at_tenth_pct=tenth - fresh,
        rise_at_end_pct=end - fresh,
    )
