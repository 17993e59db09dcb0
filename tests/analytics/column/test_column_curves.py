"""What curves mean: the end of capacity, streams, loads, blends."""

from __future__ import annotations

import numpy as np
import pytest

from analytics.chemistry.conductivity import ec25_us_cm
from analytics.chemistry.water import Water, stacked, unstacked, water
from analytics.column.curves import GRID, Curves, blended_ec25, breakthrough_curves, treated_water
from analytics.column.exchanger import Exchanger, sites
from analytics.column.life import live
from analytics.column.streams import mixed, streams
from analytics.setup import CapacityKind
from tests.check_values.invented_waters import COUNT, alkaline, fourteen

SODIUM = Exchanger()
HYDROGEN = Exchanger(log_k_h=4.25, start_ca=0.02)
CHALK = water(ca=2.75, mg=0.2, na=0.6, k=0.1, cl=0.8, so4=0.3, no3=0.4, alkalinity=4.8, dic=5.2)


def _hydrogen(**options: float) -> Curves:
    return breakthrough_curves([HYDROGEN], CHALK, kind=CapacityKind.CARBONATE, **options)


@pytest.mark.parametrize("end_share", [0.1, 0.2, 0.5])
@pytest.mark.parametrize("bypass", [0.0, 0.3])
def test_life_ends_where_the_share_has_come_back(end_share: float, bypass: float) -> None:
    """At 1 on the grid the treated share is leakage + end_share (1 - leakage)."""
    curves = _hydrogen(end_share=end_share, bypass=bypass)
    leakage = float(curves.leakage[0])
    at_end = float(np.interp(1.0, GRID, curves.share[0]))

    assert at_end == pytest.approx(leakage + end_share * (1.0 - leakage), abs=0.01)


def test_load_is_one_at_the_end_and_never_falls() -> None:
    """The load counts equivalents taken, over those taken up to the end."""
    load = _hydrogen().load[0]

    assert np.interp(1.0, GRID, load) == pytest.approx(1.0)
    assert np.all(np.diff(load) >= -1e-12)


def test_more_cells_make_a_sharper_front() -> None:
    """With 40 cells less has come back just before the end than with 10."""
    early = []
    for cells in (10, 40):
        life = live(sites([SODIUM]), CHALK, CapacityKind.TOTAL, cells=cells)
        total = life.cations[:, 0, 0] + life.cations[:, 1, 0]
        early.append(float(np.interp(0.9, life.fed[:, 0], total)))

    assert early[1] < 0.2 * early[0]


@pytest.mark.parametrize("spread", [0.05, 0.11, 0.2])
def test_streams_carry_the_whole_flow_at_mean_speed_one(spread: float) -> None:
    """Flow shares sum to 1, so do bed shares (flow share over speed), and ln speed spreads so."""
    speed, share = streams(spread)
    bed = share / speed
    centre = (bed * np.log(speed)).sum()

    assert share.sum() == pytest.approx(1.0)
    assert bed.sum() == pytest.approx(1.0)
    assert np.sqrt((bed * (np.log(speed) - centre) ** 2).sum()) == pytest.approx(spread, rel=0.03)


def test_wider_streams_make_a_flatter_front_and_an_earlier_end() -> None:
    """Spread takes yield away and slope at the end."""
    narrow, wide = _hydrogen(spread=0.05), _hydrogen(spread=0.2)
    slopes = [np.gradient(each.share[0], GRID)[100] for each in (narrow, wide)]

    assert wide.yield_[0] < narrow.yield_[0]
    assert slopes[1] < 0.5 * slopes[0]


def test_streams_keep_the_mass_balance() -> None:
    """What a spent bed has taken does not depend on how its streams spread."""
    life = live(sites([SODIUM]), CHALK, CapacityKind.TOTAL)
    held = [
        float((life.entering.cations[:2, 0] - each.cations[:, :2, 0]).sum())
        for each in (life, mixed(life, 0.15))
    ]

    assert held[1] == pytest.approx(held[0], rel=2e-3)


def test_no_spread_leaves_the_column_as_it_is() -> None:
    """A spread of 0 changes nothing."""
    life = live(sites([SODIUM]), CHALK, CapacityKind.TOTAL)

    assert mixed(life, 0.0) is life


@pytest.mark.parametrize("bypass", [0.05, 0.12, 0.3, 0.7])
@pytest.mark.parametrize("exchanger", [HYDROGEN, SODIUM], ids=["hydrogen", "sodium"])
def test_conductivity_of_a_blend_is_that_of_its_ions(exchanger: Exchanger, bypass: float) -> None:
    """The formula for blends meets EC25 by ions within 0.25 % of raw in all fourteen waters."""
    waters = fourteen()
    kind = CapacityKind.TOTAL if exchanger is SODIUM else CapacityKind.CARBONATE
    curves = breakthrough_curves([exchanger], waters, kind=kind)
    treated = treated_water(waters, curves.cations, curves.alkalinity)
    blend = bypass * stacked(waters)[:, :, None] + (1 - bypass) * stacked(treated)
    by_ions = ec25_us_cm(unstacked(blend))
    raw = curves.raw_ec25_us_cm[:, None]
    found = blended_ec25(
        raw, curves.ec25_us_cm, curves.bend_us_cm, curves.acid_us_cm, np.array(bypass)
    )

    assert (np.abs(found - by_ions) / raw)[:, 5:].max() < 0.0025


def test_many_waters_at_once_are_the_same_as_one_by_one() -> None:
    """Variants side by side do not touch each other."""
    waters = fourteen()
    together = breakthrough_curves([HYDROGEN], waters, kind=CapacityKind.CARBONATE)
    for place in (0, 9, 13):
        alone = breakthrough_curves([HYDROGEN], waters.at(place), kind=CapacityKind.CARBONATE)
        np.testing.assert_allclose(together.share[place], alone.share[0], atol=1e-6)


def test_a_water_without_hardness_has_no_end() -> None:
    """Soft, salty water leaves a softener as it is for ever, and nothing is NaN."""
    salty = water(na=5.0, cl=3.0, alkalinity=2.0)
    curves = breakthrough_curves([SODIUM], salty, kind=CapacityKind.TOTAL)

    assert not curves.ended[0]
    assert np.all(np.isfinite(curves.ec25_us_cm))
    assert np.all(curves.share == 1.0)


def test_sodium_breaks_through_first_where_alkalinity_exceeds_hardness() -> None:
    """Outlet EC25 of a hydrogen bed climbs by 5-20 % of raw in the first half of life there, with
    hardness still under a tenth of raw."""
    waters = fourteen()
    curves = breakthrough_curves([HYDROGEN], waters, kind=CapacityKind.CARBONATE)
    climb = (curves.ec25_us_cm[:, 50] - curves.ec25_us_cm[:, 5]) / curves.raw_ec25_us_cm
    hardness = (curves.cations[0] + curves.cations[1]) / _hardness(waters)[:, None]

    assert np.all((climb[alkaline()] > 0.05) & (climb[alkaline()] < 0.20))
    assert np.all(climb[~alkaline()] < 0.03)
    assert np.all(hardness[alkaline(), 10:51] < 0.1)


def _hardness(waters: Water) -> np.ndarray:
    return np.asarray(waters.ca_mmol_l + waters.mg_mmol_l)


def test_potassium_leaves_before_magnesium_before_calcium() -> None:
    """A spent softener gives back K first; Mg passes its raw level before Ca comes through."""
    life = live(sites([SODIUM]), CHALK, CapacityKind.TOTAL)
    ratio = life.cations[:, :, 0] / life.entering.cations[:, 0]
    half = [int(np.flatnonzero(ratio[:, ion] > 0.5)[0]) for ion in (3, 1, 0)]

    assert half == sorted(half)
    assert ratio[:, 1].max() > 1.0


def test_capacity_falls_with_magnesium_in_the_raw_water() -> None:
    """A bed in magnesium form takes less calcium to the end the more magnesium comes in."""
    magnesium = Exchanger(start_ca=0.04, start_mg=0.96)
    share = np.array([0.05, 0.2, 0.4])
    raw = water(ca=2.0 * (1 - share), mg=2.0 * share, na=0.5, cl=1.5, alkalinity=3.0)
    yields = breakthrough_curves([magnesium], raw, kind=CapacityKind.CALCIUM).yield_

    assert np.all(np.diff(yields) < -0.05)


def test_all_fourteen_waters_end(hydrogen_lives: Curves) -> None:
    """Every invented water brings a hydrogen bed to its end within the run."""
    assert hydrogen_lives.ended.sum() == COUNT


@pytest.fixture
def hydrogen_lives() -> Curves:
    return breakthrough_curves([HYDROGEN], fourteen(), kind=CapacityKind.CARBONATE)
