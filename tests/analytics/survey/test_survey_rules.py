"""Which family a practitioner would fit, and the reason for each that does not."""

from __future__ import annotations

import pytest

from analytics.media import media
from analytics.survey.behind import REMINERALISE
from analytics.survey.plan import survey
from analytics.survey.site import Aim, Boilers, Material, Site
from analytics.survey.window import COFFEE_2018, STEAM_ONLY
from tests.analytics.survey.surveyed import (
    CALCIUM_HEAVY,
    CHALK,
    COASTAL,
    IN_WINDOW,
    LIMESTONE,
    TEN,
    candidate,
    codes,
    drops,
    families,
    plan_of,
)


@pytest.mark.parametrize("name", TEN)
def test_every_family_is_judged_and_says_why(name: str) -> None:
    """Each medium of the registry is in the answer; one that does not fit has a reason."""
    found = plan_of(name)

    assert {each.family for each in found.candidates} == {*media(), REMINERALISE}
    for each in found.candidates:
        assert each.fits or each.against
        assert all(r.code for r in (*each.against, *each.care))


def test_water_in_the_window_gets_carbon_alone() -> None:
    """Nothing else is called for."""
    found = plan_of("in the window")

    assert found.best.family == "carbon"
    assert not {"hydrogen", "mixed", "membrane"} & set(families(found))


@pytest.mark.parametrize("name", ["limestone", "chalk", "magnesium-rich"])
def test_high_alkalinity_mostly_carbonate_gets_hydrogen_or_mixed(name: str) -> None:
    """Both are offered, with a bypass that brings the water into the window."""
    found = plan_of(name)

    assert set(families(found)[:2]) == {"hydrogen", "mixed"}
    assert found.best.chance_in_window is not None
    assert found.best.chance_in_window > 0.9
    assert found.best.bypass is not None
    assert 0.0 < found.best.bypass.share < 0.5


def test_hardness_near_the_window_for_taste_gets_magnesium() -> None:
    """Calcium falls, total hardness and alkalinity stay."""
    found = plan_of("calcium-heavy")
    best = found.best

    assert best.family == "magnesium"
    assert best.blended is not None
    assert best.blended.hardness_mmol_l.p50 == pytest.approx(
        found.raw.hardness_mmol_l.p50, rel=0.02
    )
    assert best.blended.alkalinity_meq_l.p50 == pytest.approx(found.raw.alkalinity_meq_l.p50)
    assert best.blended.calcium_mmol_l.p50 < 0.7 * found.raw.calcium_mmol_l.p50


def test_machine_protection_gets_sodium() -> None:
    """With alkalinity acceptable and chloride low; sodium added is stated against the limit."""
    found = survey(CALCIUM_HEAVY, Site(aim=Aim.MACHINE, litres_a_day=85.0))

    assert found.best.family == "sodium"
    assert "sodium-diet" in codes(found.best.care)
    assert found.best.blended is not None
    assert found.best.blended.sodium_mg_l.p50 > found.raw.sodium_mg_l.p50 + 20


def test_sodium_is_ruled_out_where_the_water_must_stay_low_in_it() -> None:
    """The site's wish stops softening."""
    found = survey(CALCIUM_HEAVY, Site(aim=Aim.MACHINE, low_sodium=True))

    assert "low-sodium" in codes(candidate(found, "sodium").against)


@pytest.mark.parametrize("name", ["gypsum", "hard, little alkalinity"])
def test_permanent_hardness_asks_for_a_membrane(name: str) -> None:
    """Exchange alone does not do."""
    found = plan_of(name)

    assert found.best.family == "membrane"
    assert not {"hydrogen", "mixed", "sodium", "magnesium"} & set(families(found))


def test_high_chloride_asks_for_a_membrane() -> None:
    """All exchangers and carbon say chloride is why."""
    found = plan_of("coastal")

    assert found.best.family == "membrane"
    for family in ("hydrogen", "mixed", "magnesium", "sodium", "carbon"):
        assert "chloride" in codes(candidate(found, family).against)
    assert found.best.blended is not None
    assert found.best.blended.chloride_mg_l.p50 < COFFEE_2018.chloride_watch_mg_l


def test_copper_boilers_stand_chloride() -> None:
    """The limit is one of stainless steel and brass."""
    found = survey(COASTAL, Site(material=Material.COPPER))

    assert "hydrogen" in families(found)


def test_soft_and_thin_water_gets_minerals_back() -> None:
    """And is called corrosive until it has them."""
    found = plan_of("moorland")

    assert found.best.family == REMINERALISE
    assert families(found) == [REMINERALISE]
    assert found.best.blended is not None
    assert found.best.blended.alkalinity_meq_l.p50 > 2 * found.raw.alkalinity_meq_l.p50


def test_alkalinity_above_hardness_leaves_no_hydrogen() -> None:
    """The floor alkalinity - total hardness, and no hardness left over it."""
    found = plan_of("soda")

    assert {"floor", "too-soft-behind"} & codes(candidate(found, "hydrogen").against)
    assert "alkalinity-exceeds-hardness" in codes(found.notes)


@pytest.mark.parametrize("name", TEN)
def test_polyphosphate_is_never_advised_before_an_espresso_machine(name: str) -> None:
    """Films and sludge in passages of half a millimetre."""
    found = candidate(plan_of(name), "polyphosphate")

    assert not found.fits
    assert "films" in codes(found.against)


def test_untested_chloride_asks_for_its_test() -> None:
    """What was not tested can rule a treatment out: it is said."""
    found = survey(drops(16, 13, ec25_us_cm=560.0))

    assert "chloride-untested" in codes(found.best.care)
    assert "chloride_mmol_l" in found.untested


def test_steam_alone_gets_sodium_and_is_judged_by_its_own_window() -> None:
    """A steam boiler wants no hardness; taste does not count."""
    found = survey(
        drops(14, 11, ec25_us_cm=500.0, chloride_mmol_l=0.5),
        Site(boilers=Boilers.STEAM, aim=Aim.MACHINE),
        STEAM_ONLY,
    )

    assert found.best.family == "sodium"
    assert found.best.blended is not None
    assert found.best.blended.brew_si is None
    assert found.best.blended.steam_lime_mg_l is not None
    assert found.raw.steam_lime_mg_l is not None
    assert found.best.blended.steam_lime_mg_l < 0.5 * found.raw.steam_lime_mg_l


def test_decarbonised_water_is_called_sour_at_the_tap() -> None:
    """Carbon dioxide stays in it; in air pH rises."""
    found = plan_of("chalk").best

    assert {"ph", "low-ph"} & codes(found.care)
    assert found.blended is not None
    assert found.blended.open_ph > found.blended.ph.p95 + 1


@pytest.mark.parametrize("name", TEN)
def test_cautions_that_always_hold_are_there(name: str) -> None:
    """Not made safe, flush, confirm by a test; plumbing and electricity."""
    found = plan_of(name)

    assert "hygiene" in codes(found.best.cautions)
    assert {"plumbing", "electricity"} == codes(found.cautions)


def test_magnesium_before_a_steam_boiler_warns_of_deposits() -> None:
    """Magnesium minerals can still deposit there."""
    assert "steam-boiler" in codes(plan_of("calcium-heavy").best.cautions)


@pytest.mark.parametrize(
    ("given", "raw_si"), [(LIMESTONE, 0.8), (CHALK, 0.8)], ids=["limestone", "chalk"]
)
def test_scale_is_judged_hot(given: object, raw_si: float) -> None:
    """The brew boiler's index stands in the answer, raw and treated."""
    found = plan_of("limestone" if given is LIMESTONE else "chalk")

    assert found.raw.brew_si is not None
    assert found.best.blended is not None
    assert found.best.blended.brew_si is not None
    assert found.raw.brew_si.p50 > raw_si
    assert found.best.blended.brew_si.p50 < 0.0


def test_another_window_gives_another_answer() -> None:
    """Water inside a wider profile needs nothing."""
    import msgspec

    wide = msgspec.structs.replace(
        COFFEE_2018,
        hardness_mmol_l=msgspec.structs.replace(COFFEE_2018.hardness_mmol_l, high=3.5),
        alkalinity_meq_l=msgspec.structs.replace(COFFEE_2018.alkalinity_meq_l, high=5.0),
        si_stop=2.0,
    )

    assert survey(LIMESTONE, window=wide).best.family == "carbon"
    assert survey(IN_WINDOW, window=wide).best.family == "carbon"
