"""What a bed of the project's own column model makes of a main that changes hour by hour."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from analytics.chemistry.conductivity import ec25_us_cm
from analytics.chemistry.water import Water, water
from analytics.column import lookup
from analytics.column.exchanger import Exchanger
from analytics.column.family import CurveFamily, Raw, curve_family
from analytics.exchange_medium import ExchangeMedium
from analytics.media import media
from analytics.samples import Floats
from tests.lives.plan import Plan

RECKONED_H = 12
"""Conductivity of raw water is reckoned every so many hours, linear between."""


class Course(NamedTuple):
    """Hour by hour: raw and blended water, and the share of life used."""

    raw: Raw
    life: Floats
    outlet_ec25: Floats
    outlet: tuple[Floats, Floats, Floats]
    outlet_kind: Floats
    raw_kind: Floats


def make_family(plan: Plan, rows: Floats, rng: np.random.Generator) -> CurveFamily:
    """The curves of one bed drawn at random, for the main's mean water."""
    medium = next(m for m in media().values() if m.name == plan.medium)
    assert isinstance(medium, ExchangeMedium)
    priors = medium.shape_priors
    weights = np.array([w for _, w in priors.variants])
    chosen: Exchanger = priors.variants[int(rng.choice(len(weights), p=weights / weights.sum()))][0]
    spread = priors.spread_median * float(np.exp(priors.spread_ln_sd * rng.standard_normal()))
    spread = float(np.clip(spread, 0.04, 0.22))
    mean = rows[: max(len(rows) // 2, 1)].mean(axis=0)
    return curve_family(
        [(chosen, 1.0)], [(spread, 1.0)], one_water(mean), kind=medium.kind, end_share=0.2
    )


def one_water(row: Floats) -> Water:
    """A water of the main (Ca, Mg, Na, K, Cl, SO4, alkalinity, pH)."""
    ca, mg, na, k, cl, so4, alkalinity, _ = row
    return water(
        ca=ca, mg=mg, na=na, k=k, cl=cl, so4=so4, alkalinity=alkalinity, dic=1.08 * alkalinity
    )


def run_bed(
    plan: Plan, family: CurveFamily, rows: Floats, litres: Floats, bypass: Floats
) -> Course:
    """The bed's course; `litres` through the head by each hour, `bypass` at each."""
    raw = Raw(
        hardness_mmol_l=rows[:, 0] + rows[:, 1],
        calcium_mmol_l=rows[:, 0],
        alkalinity_meq_l=rows[:, 6],
        ec25_us_cm=_raw_ec25(rows),
    )
    shape = np.zeros(len(rows), dtype=np.int64)
    ln_ratio = lookup.ln_ratio_of(family, raw)
    rated = plan.rated_dh_l * 0.178326 * (1.0 + plan.capacity_error)
    capacity = rated * lookup.capacity_factor(family, shape, ln_ratio)
    kind = lookup.raw_kind_mmol_l(family, raw)
    fed = np.diff(litres, prepend=0.0) * (1.0 - bypass) * kind / capacity
    life = np.cumsum(fed)
    seen = lookup.look(family, np.minimum(life, 1.59), shape, ln_ratio)
    parts = (seen.hardness, seen.alkalinity, seen.calcium)
    hardness, alkalinity, calcium = (bypass + (1.0 - bypass) * each for each in parts)
    return Course(
        raw=raw,
        life=life,
        outlet_ec25=lookup.ec25_blended(family, seen, raw, bypass),
        outlet=(
            raw.hardness_mmol_l * hardness,
            raw.alkalinity_meq_l * alkalinity,
            raw.calcium_mmol_l * calcium,
        ),
        outlet_kind=lookup.blended_kind_mmol_l(family, seen, raw, bypass),
        raw_kind=kind,
    )


def _raw_ec25(rows: Floats) -> Floats:
    places = np.append(np.arange(0, len(rows) - 1, RECKONED_H), len(rows) - 1)
    few = rows[places]
    alkalinity = few[:, 6]
    waters = water(
        ca=few[:, 0],
        mg=few[:, 1],
        na=few[:, 2],
        k=few[:, 3],
        cl=few[:, 4],
        so4=few[:, 5],
        alkalinity=alkalinity,
        dic=1.08 * alkalinity,
    )
    return np.interp(np.arange(len(rows)), places, np.asarray(ec25_us_cm(waters)))
