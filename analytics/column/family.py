"""Curves of one raw water for every shape a bed may have, ready to be looked up.

A shape is a pair: which variant of the exchanger, and how far its streams spread. Shapes are a
list with prior weights, so that a guess about a bed carries one whole number. Curves are kept for
five ratios of alkalinity to hardness around the water they were drawn for, and as ratios to raw
water, so that they hold while the raw water drifts: with all ions 25 % up or down EC25 behind
the bed is met within 0.9 % of raw EC25 (2.8 % where alkalinity exceeds hardness), the end of
capacity within 2 %. Draw the family anew when raw water has moved further than that.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import msgspec
import numpy as np
from numpy.typing import NDArray

from analytics.chemistry.water import (
    FIELDS,
    Water,
    balanced,
    changed,
    hardness_mmol_l,
    stacked,
    unstacked,
    water,
)
from analytics.column.curves import END_SHARE, GRID, Curves, drawn
from analytics.column.exchanger import Exchanger, sites
from analytics.column.life import LEAST_MEQ, live
from analytics.column.streams import mixed
from analytics.samples import Floats, Ints
from analytics.setup import CapacityKind

REFERENCE: Final[Water] = balanced(
    water(ca=2.1, mg=0.4, na=1.0, k=0.08, cl=0.9, so4=0.5, no3=0.2, alkalinity=4.0, dic=4.3)
)
"""A hard tap water as capacities are rated with: 14 dH, 16 % of it magnesium, alkalinity 80 %.
Common practice, no source."""

RATIOS: Final = (0.65, 0.85, 1.0, 1.15, 1.4)
"""Alkalinity over hardness, relative to the water a family is drawn for."""

OUTPUTS: Final = ("hardness", "calcium", "alkalinity", "fall", "bend", "acid")
"""Last axis of `table`: treated over raw for the first three; fall of EC25 from raw to treated,
uS/cm per meq/L of raw alkalinity (weak-acid media) or hardness; bend and acid of a blend over raw
EC25 (`curves.blended_ec25`)."""


class CurveFamily(msgspec.Struct, frozen=True, kw_only=True, eq=False):
    """Curves against the share of life used, for `shape` = 0 .. len(weight) - 1.

    `table` is (ratio, shape, place on grid, output); share of life is raw equivalents of the kind
    fed to the bed over those fed up to the end of capacity. `capacity_factor` (ratio, shape) is
    what the bed takes of its kind in this water over what it takes in `REFERENCE`: rated capacity
    times this is fed up to the end. `leakage` is fresh treated over raw of the kind. `ended` is
    False where this water never brings the bed to an end.
    """

    kind: CapacityKind
    per_alkalinity: bool
    ln_ratios: Floats
    spread: Floats
    variant: Ints
    weight: Floats
    table: Floats
    capacity_factor: Floats
    leakage: Floats
    ended: NDArray[np.bool_]
    raw: Water
    raw_ec25_us_cm: float
    bypass: float


class Seen(msgspec.Struct, frozen=True, kw_only=True, eq=False):
    """What lies behind the bed, as ratios to raw water (see `OUTPUTS`)."""

    hardness: Floats
    calcium: Floats
    alkalinity: Floats
    fall_us_cm_per_meq: Floats
    bend: Floats
    acid: Floats


class Raw(msgspec.Struct, frozen=True, kw_only=True, eq=False):
    """Raw water as an estimator guesses at it, one entry a guess."""

    hardness_mmol_l: Floats
    calcium_mmol_l: Floats
    alkalinity_meq_l: Floats
    ec25_us_cm: Floats


def curve_family(
    variants: Sequence[tuple[Exchanger, float]],
    spreads: Sequence[tuple[float, float]],
    raw: Water,
    *,
    kind: CapacityKind,
    bypass: float = 0.0,
    end_share: float = END_SHARE,
) -> CurveFamily:
    """Draw the curves of one raw water for every (variant, spread), each with its prior weight."""
    even = balanced(raw)
    waters = [with_alkalinity(even, ratio) for ratio in RATIOS] + [REFERENCE]
    exchangers = [exchanger for exchanger, _ in variants]
    columns = _side_by_side(waters, len(exchangers))
    life = live(sites(exchangers * len(waters)), columns, kind)
    drawings = [
        drawn(mixed(life, spread), columns, kind=kind, end_share=end_share, bypass=bypass)
        for spread, _ in spreads
    ]
    weights = np.outer([w for _, w in spreads], [w for _, w in variants])
    per_alkalinity = exchangers[0].log_k_h is not None
    ends = _by_ratio(drawings, "yield_", len(exchangers))
    nominal = drawings[0].raw_ec25_us_cm.reshape(len(waters), -1)[RATIOS.index(1.0), 0]
    return CurveFamily(
        kind=kind,
        per_alkalinity=per_alkalinity,
        ln_ratios=np.log(RATIOS),
        spread=np.repeat([s for s, _ in spreads], len(variants)),
        variant=np.tile(np.arange(len(variants)), len(spreads)),
        weight=(weights / weights.sum()).ravel(),
        table=_table(drawings, columns, per_alkalinity, len(exchangers)),
        capacity_factor=ends[:-1] / ends[-1],
        leakage=_by_ratio(drawings, "leakage", len(exchangers))[:-1],
        ended=_by_ratio(drawings, "ended", len(exchangers))[:-1] > 0.5,
        raw=even,
        raw_ec25_us_cm=float(nominal),
        bypass=bypass,
    )


def with_alkalinity(raw: Water, factor: float) -> Water:
    """The same hardness with more or less alkalinity.

    Strong anions give way; where they run out (a fifth of them stays), sodium makes up the rest.
    """
    added = raw.alkalinity_meq_l * (factor - 1.0)
    strong = raw.cl_mmol_l + 2.0 * raw.so4_mmol_l + raw.no3_mmol_l
    left = np.maximum(strong - added, 0.2 * strong)
    scale = left / np.maximum(strong, 1e-9)
    return changed(
        raw,
        alkalinity_meq_l=raw.alkalinity_meq_l + added,
        dic_mmol_l=raw.dic_mmol_l * factor,
        na_mmol_l=raw.na_mmol_l + (left - (strong - added)),
        cl_mmol_l=raw.cl_mmol_l * scale,
        so4_mmol_l=raw.so4_mmol_l * scale,
        no3_mmol_l=raw.no3_mmol_l * scale,
    )


def _side_by_side(waters: Sequence[Water], count: int) -> Water:
    """All waters in one, each repeated for `count` exchangers."""
    rows = np.array([np.reshape(stacked(each), (len(FIELDS),)) for each in waters]).T
    return unstacked(np.repeat(rows, count, axis=1))


def _by_ratio(drawings: Sequence[Curves], field: str, variants: int) -> Floats:
    """One figure a curve as (water, shape)."""
    found = np.array([getattr(each, field) for each in drawings])
    by_water = found.reshape(len(drawings), -1, variants).transpose(1, 0, 2)
    return by_water.reshape(by_water.shape[0], -1)


def _table(
    drawings: Sequence[Curves], columns: Water, per_alkalinity: bool, variants: int
) -> Floats:
    carrier = columns.alkalinity_meq_l if per_alkalinity else 2.0 * hardness_mmol_l(columns)
    rows = [_outputs(each, columns, np.maximum(carrier, LEAST_MEQ)) for each in drawings]
    found = np.array(rows).reshape(len(drawings), -1, variants, len(GRID), len(OUTPUTS))
    by_water = found.transpose(1, 0, 2, 3, 4)[:-1]
    return np.ascontiguousarray(by_water.reshape(len(RATIOS), -1, len(GRID), len(OUTPUTS)))


def _outputs(curves: Curves, columns: Water, carrier: Floats) -> Floats:
    """(variant, place, output) of one drawing."""
    ca, mg = curves.cations[0], curves.cations[1]
    raw_ec = curves.raw_ec25_us_cm[:, None]
    columns_of = (
        _over(ca + mg, hardness_mmol_l(columns)),
        _over(ca, columns.ca_mmol_l),
        _over(curves.alkalinity, columns.alkalinity_meq_l),
        (raw_ec - curves.ec25_us_cm) / carrier[:, None],
        curves.bend_us_cm / raw_ec,
        curves.acid_us_cm / raw_ec,
    )
    return np.stack(columns_of, axis=-1)


def _over(treated: Floats, raw: Floats) -> Floats:
    """Treated over raw; 1 where the raw water has none."""
    there = raw > 1e-9
    return np.where(there[:, None], treated / np.where(there, raw, 1.0)[:, None], 1.0)
