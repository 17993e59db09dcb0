"""What goes in comes out: blends, bypass and size by mass balance."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given as drawn
from hypothesis import strategies as st

from analytics.chemistry.masses import CACO3
from analytics.chemistry.treatment import blended, bypass_for
from analytics.chemistry.water import (
    charge_surplus_meq_l,
    hardness_mmol_l,
    water,
)
from analytics.media import media
from analytics.quantities import CAPACITY, CUBIC_FOOT_L, DH_MMOL_L, GPG_MMOL_L, US_GALLON_L
from analytics.setup import CapacityKind
from analytics.survey.behind import TYPICAL, typical, with_column
from analytics.survey.blend import SHARES, blends
from analytics.survey.filling import filled
from analytics.survey.site import Site
from analytics.survey.sizing import capacity_for, litres_from, sized
from tests.analytics.survey.surveyed import CHALK, TEN, plan_of

CHALK_WATER = filled(CHALK, 1, np.random.default_rng(1)).water
EXCHANGERS = ("hydrogen", "mixed", "magnesium", "sodium")


@pytest.mark.parametrize(
    ("resin_m3", "kg_m3", "l_day", "raw", "target", "bypass", "days"),
    [
        (0.2, 25.0, 1200.0, 245.0, 100.0, 0.4082, 28.74),
        (0.07, 46.0, 2000.0, 280.0, 85.0, 0.3036, 8.26),
    ],
    ids=["0.2 m3", "0.07 m3, Davis & Cornwell type"],
)
def test_published_exercises_of_bypass_and_time(
    resin_m3: float,
    kg_m3: float,
    l_day: float,
    raw: float,
    target: float,
    bypass: float,
    days: float,
) -> None:
    """Resin volume, capacity in kg CaCO3 to the m3, use, raw and wanted hardness in mg/L CaCO3."""
    found = float(bypass_for(target, raw, 0.0))
    litres = float(litres_from(resin_m3 * kg_m3 * 1e6 / CACO3, raw / CACO3, found))

    assert found == pytest.approx(bypass, rel=1e-3)
    assert litres / l_day == pytest.approx(days, rel=1e-3)


@pytest.mark.parametrize(
    ("capacity_eq", "hardness_dh", "litres"),
    [(1.2, 15.0, 224.3), (2.0, 10.0, 560.8)],
    ids=["1 L strong acid", "1 L weak acid"],
)
def test_litres_of_a_litre_of_resin(capacity_eq: float, hardness_dh: float, litres: float) -> None:
    """Operating capacity in eq over hardness: exact arithmetic of the definition of dH."""
    found = litres_from(CAPACITY.to_base(capacity_eq, "eq"), hardness_dh * DH_MMOL_L, 0.0)

    assert float(found) == pytest.approx(litres, rel=1e-3)


@pytest.mark.parametrize(
    ("grains", "gpg", "gallons"), [(24_000.0, 20.0, 1200.0), (50_000.0, 45.0, 1111.1)]
)
def test_gallons_are_grains_over_grains_a_gallon(grains: float, gpg: float, gallons: float) -> None:
    """Trade-journal article and operator exam text."""
    litres = litres_from(CAPACITY.to_base(grains, "gr"), gpg * GPG_MMOL_L, 0.0)

    assert float(litres) / US_GALLON_L == pytest.approx(gallons, rel=1e-4)


def test_weekly_capacity_of_a_household() -> None:
    """4 people, 80 gallons, 13 grains a gallon, 7 days: 29 120 grains (sizing text)."""
    found = capacity_for(4 * 80 * US_GALLON_L * 7, 13 * GPG_MMOL_L, 0.0)

    assert CAPACITY.from_base(float(found), "gr") == pytest.approx(29_120)


def test_resin_capacity_in_eq_and_kilograins() -> None:
    """1 eq/L is 21.87 kgr/ft3 as CaCO3."""
    found = CAPACITY.from_base(CAPACITY.to_base(CUBIC_FOOT_L, "eq"), "kgr")

    assert found == pytest.approx(21.8686, abs=0.01)


@drawn(
    st.sampled_from(EXCHANGERS),
    st.floats(0.2, 6.0),
    st.floats(0.05, 0.9),
    st.floats(0.2, 8.0),
    st.floats(0.0, 3.0),
    st.floats(0.0, 0.4),
)
def test_charges_and_anions_stay_whole_behind_every_bed(
    family: str, hardness: float, calcium: float, alkalinity: float, chloride: float, leak: float
) -> None:
    """Exchange moves equivalents, and takes no chloride, sulphate or nitrate."""
    raw = water(
        ca=hardness * calcium,
        mg=hardness * (1 - calcium),
        na=max(alkalinity + chloride - 2 * hardness, 0.0) + 0.5,
        cl=chloride,
        so4=max(2 * hardness - alkalinity - chloride, 0.0) / 2 + 0.25,
        alkalinity=alkalinity,
    )
    behind = typical(family, media()[family]).treated(raw, leak)

    assert float(charge_surplus_meq_l(behind)) == pytest.approx(0.0, abs=1e-9)
    for ion in ("cl_mmol_l", "so4_mmol_l", "no3_mmol_l", "dic_mmol_l"):
        assert float(getattr(behind, ion)) == float(getattr(raw, ion))
    for field in ("ca_mmol_l", "mg_mmol_l", "na_mmol_l", "alkalinity_meq_l"):
        assert float(getattr(behind, field)) >= -1e-9


@drawn(st.sampled_from(EXCHANGERS), st.integers(0, 90))
def test_more_bypass_never_gives_less_hardness_or_alkalinity(family: str, place: int) -> None:
    """Each step of the head brings the blend nearer to raw water."""
    raw = CHALK_WATER
    behind = typical(family, media()[family]).treated(raw, 0.02)
    mixed = blends(behind, raw)

    for values in (hardness_mmol_l(mixed)[0], mixed.alkalinity_meq_l[0], mixed.ca_mmol_l[0]):
        assert np.all(np.diff(values) >= -1e-12)
        assert values[place] <= values[-1] + 1e-12
    share = float(SHARES[place])
    one = blended(behind, raw, share)
    assert hardness_mmol_l(mixed)[0, place] == pytest.approx(float(hardness_mmol_l(one)[0]))


@pytest.mark.parametrize("family", EXCHANGERS)
@pytest.mark.parametrize("name", ["limestone", "gypsum", "coastal"])
def test_mass_balance_agrees_with_the_column_in_mid_life(family: str, name: str) -> None:
    """The column model, half way through a bed's life, finds the same water within 0.2 mmol/L."""
    raw = filled(TEN[name], 1, np.random.default_rng(3)).water.at(0)
    medium = media()[family]
    known = with_column(typical(family, medium), raw)
    by_balance, by_column = known.treated(raw, known.leak.p50), medium.treated(raw, 0.5)

    for field in ("ca_mmol_l", "mg_mmol_l", "alkalinity_meq_l"):
        ours = float(getattr(by_balance, field))
        theirs = float(np.ravel(getattr(by_column, field))[0])
        assert ours == pytest.approx(theirs, abs=0.2), field


@pytest.mark.parametrize("name", ["limestone", "chalk", "magnesium-rich"])
def test_bypass_by_the_formula_meets_its_target(name: str) -> None:
    """b = (target/raw - leak)/(1 - leak); blended alkalinity is the target."""
    best = plan_of(name).best
    assert best.bypass is not None
    assert best.blended is not None
    b = best.bypass
    by_hand = (b.target / b.raw - b.leak) / (1 - b.leak)

    assert b.formula == pytest.approx(by_hand)
    assert best.blended.alkalinity_meq_l.p50 == pytest.approx(b.target, abs=0.12)


def test_floor_remains_where_alkalinity_exceeds_hardness() -> None:
    """A hydrogen bed leaves alkalinity - total hardness, in equivalents."""
    raw = water(ca=1.0, mg=0.5, na=2.4, cl=0.4, alkalinity=5.0)
    behind = typical("hydrogen", media()["hydrogen"]).treated(raw, 0.0)

    assert float(behind.alkalinity_meq_l) == pytest.approx(5.0 - 3.0)
    assert float(hardness_mmol_l(behind)) == pytest.approx(0.0, abs=1e-12)


def test_size_is_capacity_over_what_the_bed_takes() -> None:
    """Removed at the bed, not in the blend, and only what passes the bed."""
    site = Site(litres_a_day=100.0, days_a_week=7.0, months=6.0, capacity_mmol=1000.0)
    gone = np.full(2000, 2.0)
    found = sized(gone, CapacityKind.CARBONATE, 0.25, site, np.random.default_rng(0))

    assert found.litres is not None
    assert found.needed_mmol is not None
    assert found.months is not None
    assert found.litres.p50 == pytest.approx(1000 / (2.0 * 0.75), rel=0.01)
    assert found.needed_mmol.p50 == pytest.approx(100 * 365.25 / 2 * 2.0 * 0.75, rel=1e-6)
    assert found.months.p50 == pytest.approx(found.litres.p50 / (100 * 365.25 / 12), rel=1e-6)
    assert found.litres.p95 / found.litres.p05 == pytest.approx(np.exp(0.2 * 1.645), rel=0.05)


def test_hygiene_ends_a_cartridge_that_capacity_would_not() -> None:
    """At the latest after twelve months."""
    site = Site(litres_a_day=5.0, capacity_mmol=1e5)
    found = sized(np.full(50, 2.0), CapacityKind.TOTAL, 0.0, site, np.random.default_rng(0))

    assert found.changed_after_months == 12.0


def test_leakages_assumed_are_those_of_the_column() -> None:
    """Before the column runs, a usual leakage stands in that the column's range meets."""
    raw = filled(CHALK, 1, np.random.default_rng(5)).water.at(0)
    for family in EXCHANGERS:
        found = with_column(typical(family, media()[family]), raw).leak
        assert found.p05 <= TYPICAL[family].p95
        assert found.p95 >= TYPICAL[family].p05
