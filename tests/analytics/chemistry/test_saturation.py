"""Scale in the kettle: what heating, thickening and losing carbon dioxide do."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analytics.chemistry.carbonate import with_ph
from analytics.chemistry.saturation import (
    BREW_BOILER,
    STEAM_BOILER,
    Boiler,
    ccpp_mg_l_caco3,
    ccpp_mmol_l,
    in_boiler,
    inside,
    si,
    without_calcite,
)
from analytics.chemistry.species import PHREEQC_386, PLUMMER_BUSENBERG_1982
from analytics.chemistry.treatment import chloride_mg_l
from analytics.chemistry.water import Water, water
from tests.check_values.tap_waters import FOUR, random_waters


def _four(name: str) -> Water:
    ph, source = FOUR[name]
    return with_ph(source, ph)


@pytest.mark.parametrize("name", FOUR)
def test_after_its_precipitation_a_water_is_saturated(name: str) -> None:
    """Taking CCPP out of the water leaves the index at 0."""
    made = _four(name)
    left = without_calcite(made, ccpp_mmol_l(made, 95.0))

    assert float(si(left, 95.0)) == pytest.approx(0.0, abs=1e-5)


@given(st.integers(0, 499), st.sampled_from([25.0, 60.0, 95.0, 125.0]))
def test_index_and_precipitation_have_the_same_sign(place: int, temp_c: float) -> None:
    """A water above saturation precipitates, one below dissolves; both are numbers."""
    crowd, measured = random_waters(500, seed=5)
    made = with_ph(crowd.at(place), float(measured[place]))
    index, amount = float(si(made, temp_c)), float(ccpp_mmol_l(made, temp_c))

    assert np.isfinite([index, amount]).all()
    assert abs(index) < 1e-4 or np.sign(index) == np.sign(amount)


@pytest.mark.parametrize(
    ("temp_c", "low", "high"), [(60.0, 0.11, 0.12), (95.0, 0.24, 0.30), (125.0, 0.32, 0.47)]
)
def test_the_set_of_constants_matters_in_boilers(temp_c: float, low: float, high: float) -> None:
    """The newer calcite constant gives a higher index, as PHREEQC 3.8.6 does against 3.7.3."""
    for ph, source in FOUR.values():
        new = si(with_ph(source, ph), temp_c, PHREEQC_386)
        old = si(with_ph(source, ph, 25.0, PLUMMER_BUSENBERG_1982), temp_c, PLUMMER_BUSENBERG_1982)

        assert low - 0.005 < float(new - old) < high + 0.005


def test_precipitation_rises_from_cold_to_hot_as_published() -> None:
    """From 10 to 90 C, closed, by 0.17-1.51 mmol/kg for tap waters (Water 13 (2021) 42)."""
    for name in ("W2 medium", "W3 hard chalk", "W4 hard sulphate"):
        made = _four(name)
        rise = float(ccpp_mmol_l(made, 90.0) - ccpp_mmol_l(made, 10.0))

        assert 0.17 < rise < 1.51


def test_water_without_calcium_can_only_dissolve() -> None:
    """Pure soda water has a very low index and a negative, finite potential."""
    made = with_ph(water(na=2.0, alkalinity=2.0), 7.5)

    assert float(si(made, 95.0)) < -3
    assert -5 < float(ccpp_mmol_l(made, 95.0)) < 0


def test_brew_boiler_is_closed_heating_to_95() -> None:
    """Nothing is concentrated or lost; index and potential are those at 95 C."""
    made = _four("W3 hard chalk")
    found = in_boiler(made, BREW_BOILER)

    assert float(found.si) == pytest.approx(float(si(made, 95.0)))
    assert found.constants == "phreeqc-3.8.6"
    assert float(ccpp_mg_l_caco3(made, 95.0)) == pytest.approx(float(found.ccpp_mmol_l) * 100.086)


def test_steam_boiler_concentrates_chloride_too() -> None:
    """At a concentration of 3 the boiler holds three times the feed's chloride."""
    made = _four("W4 hard sulphate")
    hot = inside(made, STEAM_BOILER)

    assert float(chloride_mg_l(hot)) == pytest.approx(3 * float(chloride_mg_l(made)))


def test_lost_carbon_dioxide_raises_ph_and_index() -> None:
    """The more carbon dioxide leaves with the steam, the more scale the rest can give."""
    made = _four("W2 medium")
    losses = [0.0, 0.3, 0.6, 1.0]
    found = [
        in_boiler(made, Boiler(name="steam", temp_c=125.0, concentration=2.0, co2_lost=share))
        for share in losses
    ]

    assert np.all(np.diff([float(f.ph) for f in found]) > 0)
    assert np.all(np.diff([float(f.si) for f in found]) > 0)


def test_many_waters_at_once_give_each_its_own_answer() -> None:
    """A batch is solved together and agrees with single waters."""
    crowd, measured = random_waters(50, seed=2)
    made = with_ph(crowd, measured)
    together = ccpp_mmol_l(made, 95.0)

    assert float(ccpp_mmol_l(made.at(17), 95.0)) == pytest.approx(float(together[17]), abs=1e-6)
