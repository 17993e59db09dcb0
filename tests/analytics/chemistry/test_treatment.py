"""Exchange and blending by ions, and what the result means for metal."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analytics.chemistry.carbonate import co2_mmol_l, ph, with_ph
from analytics.chemistry.conductivity import ec25_us_cm
from analytics.chemistry.treatment import (
    CorrosionLimits,
    blended,
    bypass_for,
    calcium_and_magnesium_for_hydrogen,
    calcium_and_magnesium_for_sodium,
    calcium_for_magnesium,
    corrosion,
    larson_ratio,
    linear_blend_error,
    sodium_added_mg_l,
    tds_from_ec_mg_l,
    tds_of_ions_mg_l,
)
from analytics.chemistry.water import (
    Water,
    charge_surplus_meq_l,
    hardness_mmol_l,
    stacked,
    water,
)
from tests.check_values.tap_waters import FOUR, random_waters

CHALK = with_ph(FOUR["W3 hard chalk"][1], 7.3)


@pytest.mark.parametrize(
    "treated",
    [
        calcium_and_magnesium_for_sodium(CHALK, 2.0, 0.1),
        calcium_and_magnesium_for_hydrogen(CHALK, 2.0, 0.1),
        calcium_for_magnesium(CHALK, 2.0),
    ],
    ids=["sodium", "hydrogen", "magnesium"],
)
def test_exchange_keeps_charges_and_carbon(treated: Water) -> None:
    """What leaves and what comes have equal charge; inorganic carbon stays in the vessel."""
    assert float(charge_surplus_meq_l(treated)) == pytest.approx(
        float(charge_surplus_meq_l(CHALK)), abs=1e-12
    )
    assert float(treated.dic_mmol_l) == float(CHALK.dic_mmol_l)


def test_hydrogen_exchange_turns_alkalinity_into_carbon_dioxide() -> None:
    """4 meq/L less alkalinity is 4 mmol/L more carbon dioxide, less what pairs held; pH falls."""
    treated = calcium_and_magnesium_for_hydrogen(CHALK, 2.0, 0.0)

    assert float(co2_mmol_l(treated) - co2_mmol_l(CHALK)) == pytest.approx(4.0, abs=0.15)
    assert 5.4 < float(ph(treated)) < 5.8


def test_softening_does_not_change_alkalinity() -> None:
    """Softened water keeps its alkalinity and gains 46 mg/L of sodium for each mmol/L."""
    treated = calcium_and_magnesium_for_sodium(CHALK, 2.0, 0.0)

    assert float(treated.alkalinity_meq_l) == float(CHALK.alkalinity_meq_l)
    assert float(sodium_added_mg_l(2.0)) == pytest.approx(91.96, abs=0.01)


@given(st.integers(0, 99), st.floats(0.0, 1.0))
def test_a_blend_lies_between_and_adds_up(place: int, bypass: float) -> None:
    """Every column of a blend is the weighted mean of both waters."""
    crowd, measured = random_waters(100, seed=21)
    raw = with_ph(crowd.at(place), float(measured[place]))
    treated = calcium_and_magnesium_for_hydrogen(raw, raw.alkalinity_meq_l * 0.2, 0.0)
    made = stacked(blended(treated, raw, bypass))

    assert made == pytest.approx((1 - bypass) * stacked(treated) + bypass * stacked(raw))


def test_ph_of_a_blend_is_not_the_mean_of_both() -> None:
    """A tenth of raw water lifts decarbonised water's pH by far more than a tenth of the gap."""
    treated = calcium_and_magnesium_for_hydrogen(CHALK, 2.3, 0.0)
    gap = float(ph(CHALK) - ph(treated))
    lifted = float(ph(blended(treated, CHALK, 0.1)) - ph(treated))

    assert lifted > 0.2 * gap


def test_a_blend_by_conductivities_is_off_by_little_and_exact_at_the_ends() -> None:
    """Linear EC blending misses EC by ions by less than 3 %, and by nothing at 0 and 1."""
    treated = calcium_and_magnesium_for_hydrogen(CHALK, 2.3, 0.0)
    error = linear_blend_error(treated, CHALK, np.linspace(0.0, 1.0, 11))

    assert error[[0, -1]] == pytest.approx(0.0, abs=1e-7)
    assert 1e-4 < np.abs(error).max() < 0.03


def test_bypass_brings_a_leaking_medium_to_the_target() -> None:
    """With 10 % leakage, the bypass for 2 of 6 meq/L gives 2 meq/L."""
    share = float(bypass_for(2.0, 6.0, 0.1))

    assert share * 6 + (1 - share) * 0.6 == pytest.approx(2.0)
    assert float(bypass_for(8.0, 6.0, 0.1)) == 1.0
    assert float(bypass_for(0.3, 6.0, 0.1)) == 0.0


def test_dissolved_solids_state_their_factor() -> None:
    """TDS from EC is EC times the factor given; the ions themselves weigh something else."""
    assert float(tds_from_ec_mg_l(600.0, 0.5)) == 300.0
    assert 400 < float(tds_of_ions_mg_l(CHALK)) < 520


def test_sodium_exchange_has_no_sign_to_rely_on() -> None:
    """Full softening moves EC25 of tap waters up in some and down in others, by under 8 %."""
    crowd, measured = random_waters(200, seed=7)
    raw = with_ph(crowd, measured)
    soft = calcium_and_magnesium_for_sodium(raw, raw.ca_mmol_l * 0.99, raw.mg_mmol_l * 0.99)
    shift = ec25_us_cm(soft) / ec25_us_cm(raw) - 1

    assert shift.min() < 0 < shift.max()
    assert np.abs(shift).max() < 0.08


def test_hydrogen_exchange_always_lowers_conductivity() -> None:
    """Taking 90 % of carbonate hardness as hydrogen form lowers EC25 well beyond 3 % of raw."""
    crowd, measured = random_waters(200, seed=7)
    raw = with_ph(crowd, measured)
    taken = 0.9 * np.minimum(hardness_mmol_l(raw), raw.alkalinity_meq_l / 2)
    both = taken / hardness_mmol_l(raw)
    treated = calcium_and_magnesium_for_hydrogen(raw, raw.ca_mmol_l * both, raw.mg_mmol_l * both)

    assert (ec25_us_cm(treated) / ec25_us_cm(raw)).max() < 0.97


def test_corrosion_limits_name_what_is_broken() -> None:
    """Salty, acid, weakly buffered water breaks all four limits; chalk water none but chloride."""
    sour = water(ca=0.2, na=2.0, cl=2.2, alkalinity=0.2)
    found = corrosion(sour, np.asarray(6.0))
    chalk = corrosion(CHALK, np.asarray(7.3))

    assert all((found.chloride, found.low_alkalinity, found.low_ph, found.larson))
    assert not any((chalk.chloride, chalk.low_alkalinity, chalk.low_ph, chalk.larson))
    assert bool(corrosion(CHALK, np.asarray(7.3), CorrosionLimits(chloride_mg_l=10.0)).chloride)


def test_larson_ratio_without_alkalinity_is_infinite() -> None:
    """No buffer at all is the worst case, not a division by zero."""
    assert np.isinf(float(larson_ratio(water(na=1.0, cl=1.0))))
