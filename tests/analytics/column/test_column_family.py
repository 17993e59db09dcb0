"""A curve family read for many guesses is the curve drawn for each, and holds as water drifts."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from analytics.chemistry.conductivity import ec25_us_cm
from analytics.chemistry.water import Water, balanced, stacked, unstacked
from analytics.column.curves import GRID, Curves, breakthrough_curves
from analytics.column.family import (
    RATIOS,
    REFERENCE,
    CurveFamily,
    Raw,
    curve_family,
    with_alkalinity,
)
from analytics.column.lookup import (
    blended_kind_mmol_l,
    capacity_factor,
    ec25_blended,
    ln_ratio_of,
    look,
    raw_kind_mmol_l,
)
from analytics.exchange_medium import ExchangeMedium
from analytics.media import media
from analytics.samples import Floats
from tests.check_values.invented_waters import alkaline, fourteen

EXCHANGE = {m.name: m for m in media().values() if isinstance(m, ExchangeMedium)}
CHALK, BICARBONATE = fourteen().at(8), fourteen().at(13)
OWN = {"chalk": CHALK, "bicarbonate": BICARBONATE, "reference": REFERENCE}
PLACES = np.array([0.1, 0.3, 0.6, 0.9, 1.0, 1.1, 1.3])


@cache
def _family(name: str, own: str) -> CurveFamily:
    return EXCHANGE[name].family(OWN[own])


def _guess(raw: Water, count: int) -> Raw:
    even = balanced(raw)
    hardness = float(even.ca_mmol_l + even.mg_mmol_l)
    figures = (hardness, float(even.ca_mmol_l), float(even.alkalinity_meq_l))
    columns = [np.full(count, each) for each in (*figures, float(ec25_us_cm(even)))]
    names = ("hardness_mmol_l", "calcium_mmol_l", "alkalinity_meq_l", "ec25_us_cm")
    return Raw(**dict(zip(names, columns, strict=True)))


def _direct(medium: ExchangeMedium, family: CurveFamily, shape: int, raw: Water) -> Curves:
    variant = medium.shape_priors.variants[int(family.variant[shape])][0]
    spread = float(family.spread[shape])
    return breakthrough_curves([variant], raw, kind=medium.kind, spread=spread)


def _read(family: CurveFamily, shape: int, raw: Water, bypass: float) -> tuple[Floats, Floats]:
    """EC25 and hardness of the kind behind the head at `PLACES`."""
    guess = _guess(raw, len(PLACES))
    shapes = np.full(len(PLACES), shape)
    seen = look(family, PLACES, shapes, ln_ratio_of(family, guess))
    share = np.full(len(PLACES), bypass)
    return ec25_blended(family, seen, guess, share), blended_kind_mmol_l(family, seen, guess, share)


@pytest.mark.parametrize("medium", EXCHANGE.values(), ids=EXCHANGE)
def test_family_reads_as_the_curve_drawn_for_this_water(medium: ExchangeMedium) -> None:
    """For the family's own water EC25 and hardness are those of the curve, for every shape."""
    family = _family(medium.name, "chalk")
    for shape in range(0, len(family.weight), 7):
        direct = _direct(medium, family, shape, CHALK)
        ec, kind = _read(family, shape, CHALK, 0.0)
        meq = direct.share[0] * direct.raw_kind_meq[0]

        np.testing.assert_allclose(ec, np.interp(PLACES, GRID, direct.ec25_us_cm[0]), rtol=2e-4)
        np.testing.assert_allclose(2 * kind, np.interp(PLACES, GRID, meq), atol=0.01)


def _scaled(raw: Water, factor: float) -> Water:
    return unstacked(stacked(balanced(raw)) * factor)


def _worst_ec_error_pct(medium: ExchangeMedium, own: str, met: Water) -> float:
    """Family drawn for `own`, water `met`: worst EC25 error at `PLACES`, % of raw EC25."""
    family = _family(medium.name, own)
    shape = int(np.argmax(family.weight))
    direct = _direct(medium, family, shape, met)
    found, _ = _read(family, shape, met, 0.0)
    wanted = np.interp(PLACES, GRID, direct.ec25_us_cm[0])
    return float(100 * np.abs(found - wanted).max() / direct.raw_ec25_us_cm[0])


@pytest.mark.parametrize("factor", [0.8, 1.25])
@pytest.mark.parametrize("medium", EXCHANGE.values(), ids=EXCHANGE)
def test_a_family_holds_while_all_ions_drift_together(
    medium: ExchangeMedium, factor: float
) -> None:
    """25 % up or down costs under 0.9 % of raw EC25; with alkalinity above hardness 2.8 %."""
    assert _worst_ec_error_pct(medium, "chalk", _scaled(CHALK, factor)) < 0.9
    assert _worst_ec_error_pct(medium, "bicarbonate", _scaled(BICARBONATE, factor)) < 2.8


@pytest.mark.parametrize("own", [CHALK, BICARBONATE], ids=["chalk", "bicarbonate"])
@pytest.mark.parametrize("medium", EXCHANGE.values(), ids=EXCHANGE)
def test_the_end_holds_while_all_ions_drift_together(medium: ExchangeMedium, own: Water) -> None:
    """25 % up or down moves what a bed takes up to its end by under 2 %."""
    rows = [stacked(_scaled(own, factor)) for factor in (0.8, 1.0, 1.25)]
    yields = medium.curves(unstacked(np.array(rows).T)).yield_

    np.testing.assert_allclose(yields / yields[1], 1.0, atol=0.02)


@pytest.mark.parametrize("factor", [0.78, 0.92, 1.08, 1.25])
@pytest.mark.parametrize("medium", EXCHANGE.values(), ids=EXCHANGE)
def test_a_family_follows_alkalinity_on_its_own(medium: ExchangeMedium, factor: float) -> None:
    """Alkalinity up to 25 % up or down at the same hardness costs under 2.5 % of raw EC25, and
    8 % up or down under 1.5 %."""
    worst = 1.5 if abs(factor - 1.0) < 0.1 else 2.5

    assert _worst_ec_error_pct(medium, "chalk", with_alkalinity(CHALK, factor)) < worst
    moved = with_alkalinity(BICARBONATE, factor)
    assert _worst_ec_error_pct(medium, "bicarbonate", moved) < worst


@pytest.mark.parametrize("medium", EXCHANGE.values(), ids=EXCHANGE)
def test_capacity_factor_is_the_yield_against_the_reference_water(medium: ExchangeMedium) -> None:
    """Rated capacity times the factor is what this water feeds the bed up to the end."""
    family = _family(medium.name, "chalk")
    shape = int(np.argmax(family.weight))
    here, there = (
        float(_direct(medium, family, shape, raw).yield_[0]) for raw in (CHALK, REFERENCE)
    )
    factor = capacity_factor(family, np.array([shape]), np.array([0.0]))

    assert factor[0] == pytest.approx(here / there, rel=1e-6)


@pytest.mark.parametrize("medium", EXCHANGE.values(), ids=EXCHANGE)
def test_reference_water_has_the_rated_capacity(medium: ExchangeMedium) -> None:
    """In the reference water the factor is 1 for every shape."""
    family = _family(medium.name, "reference")

    np.testing.assert_allclose(family.capacity_factor[RATIOS.index(1.0)], 1.0, atol=1e-9)


@pytest.mark.parametrize("medium", EXCHANGE.values(), ids=EXCHANGE)
def test_shapes_carry_their_prior_weight(medium: ExchangeMedium) -> None:
    """Weights sum to 1 and no shape is without hope."""
    family = _family(medium.name, "chalk")

    assert family.weight.sum() == pytest.approx(1.0)
    assert family.weight.min() > 0.001


def test_bypass_is_blended_by_ions() -> None:
    """All bypass is raw water; none is treated water."""
    medium = EXCHANGE["hydrogen"]
    family = _family(medium.name, "chalk")
    guess = _guess(CHALK, len(PLACES))
    ec, kind = _read(family, 0, CHALK, 1.0)

    np.testing.assert_allclose(ec, guess.ec25_us_cm)
    np.testing.assert_allclose(kind, raw_kind_mmol_l(family, guess))


def test_beyond_the_table_its_edge_holds() -> None:
    """Guesses far outside get the edge's figures, never NaN."""
    medium = EXCHANGE["mixed"]
    family = _family(medium.name, "chalk")
    wild = np.array([-1.0, 0.0, 5.0])
    seen = look(family, wild, np.zeros(3, dtype=np.int64), np.array([-9.0, 0.0, 9.0]))

    assert np.all(np.isfinite(seen.fall_us_cm_per_meq))
    assert seen.hardness[2] == pytest.approx(family.table[-1, 0, -1, 0])


def test_alkalinity_takes_sodium_where_strong_anions_run_out() -> None:
    """Charges stay closed, however much alkalinity is asked for."""
    raised = with_alkalinity(CHALK, 1.8)
    closed = balanced(raised)

    np.testing.assert_allclose(stacked(raised), stacked(closed), atol=1e-9)
    assert raised.na_mmol_l > CHALK.na_mmol_l
    assert not alkaline()[8]


def test_one_variant_and_one_spread_make_a_family_of_one() -> None:
    """The smallest family has a single shape with all the weight."""
    medium = EXCHANGE["sodium"]
    single = curve_family(medium.shape_priors.variants, [(0.1, 3.0)], CHALK, kind=medium.kind)

    assert single.weight.tolist() == [1.0]
