"""Speciation closes its balances for every possible water, and never answers with NaN."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analytics.chemistry.carbonate import aerated, co2_mmol_l, ph, with_co2, with_ph
from analytics.chemistry.conductivity import ec25_us_cm, ec_us_cm
from analytics.chemistry.speciation import MANY_AT_ONCE, speciate
from analytics.chemistry.species import DATABASES, PARTS
from analytics.chemistry.water import WATER_KG_PER_L, Water, water
from analytics.errors import ModelError
from tests.check_values.tap_waters import random_waters

amount = st.one_of(st.just(0.0), st.floats(1e-6, 12.0))


@st.composite
def waters(draw: st.DrawFn) -> Water:
    """Waters from nearly nothing to very hard, with carbon to hold their alkalinity."""
    alkalinity = draw(st.one_of(st.just(0.0), st.floats(1e-4, 12.0)))
    return water(
        **{ion: draw(amount) for ion in ("ca", "mg", "na", "k", "cl", "so4", "no3")},
        alkalinity=alkalinity,
        dic=alkalinity * draw(st.floats(0.7, 3.0)) + draw(st.floats(0.0, 3.0)),
    )


@given(waters(), st.sampled_from(sorted(DATABASES)), st.sampled_from([0.0, 25.0, 95.0, 125.0]))
def test_balances_close(source: Water, database: str, temp_c: float) -> None:
    """Every ion and all carbon are found again in the species, and alkalinity adds up."""
    constants = DATABASES[database]
    found = speciate(source, temp_c, constants)
    counts = np.array([s.counts for s in constants.species])
    litre = found.molal * 1000 * WATER_KG_PER_L
    for part, name in (("ca", "ca"), ("mg", "mg"), ("na", "na"), ("so4", "so4"), ("k", "k")):
        total = float(counts[:, PARTS.index(part)] @ litre)
        assert total == pytest.approx(float(getattr(source, f"{name}_mmol_l")), abs=1e-5)
    hydrogen = counts[:, PARTS.index("h")]
    carbon = counts[:, PARTS.index("co3")]
    alkalinity = float((2 * carbon - hydrogen) @ litre)

    assert float(carbon @ litre) == pytest.approx(float(source.dic_mmol_l), abs=1e-5)
    assert alkalinity == pytest.approx(float(source.alkalinity_meq_l), abs=1e-5)


@given(waters())
def test_possible_water_has_a_conductivity_and_a_ph(source: Water) -> None:
    """EC25 is positive and pH lies between 2 and 13, never NaN."""
    found = speciate(source)

    assert 0.05 < float(ec_us_cm(found)) < 20_000
    assert 2 < float(found.ph) < 13


@given(waters(), st.floats(5.0, 9.5))
def test_ph_given_is_ph_found_again(source: Water, measured: float) -> None:
    """Inorganic carbon from a measured pH gives that pH back."""
    if float(source.alkalinity_meq_l) < 0.1:
        return
    again = ph(with_ph(source, measured))

    assert float(again) == pytest.approx(measured, abs=1e-5)


@pytest.mark.parametrize("wanted", [0.0, 0.02, 0.5, 3.0])
def test_co2_given_is_co2_found_again(wanted: float) -> None:
    """Inorganic carbon from a carbon dioxide content gives that content back."""
    made = with_co2(water(ca=1.5, na=1.0, cl=1.0, alkalinity=3.0), wanted)

    assert float(co2_mmol_l(made)) == pytest.approx(wanted, abs=1e-6)


def test_aerated_hard_water_has_ph_above_8() -> None:
    """420 ppm of carbon dioxide over a bicarbonate water of 4 meq/L: pH about 8.6 at 25 C."""
    assert 8.4 < float(ph(aerated(water(ca=2.0, alkalinity=4.0), 25.0))) < 8.8


@pytest.mark.parametrize("measured", [15.0, -1.0, 2.0, float("nan")])
def test_impossible_ph_is_refused_in_words(measured: float) -> None:
    """pH 15 is no reading: the error names it."""
    with pytest.raises(ModelError, match="cannot be") as caught:
        with_ph(water(ca=1.0, alkalinity=2.0), measured)

    assert caught.value.hint


def test_ph_too_high_for_the_alkalinity_is_refused() -> None:
    """pH 10.5 needs 0.3 meq/L of hydroxide alone; 0.1 meq/L of alkalinity cannot hold it."""
    with pytest.raises(ModelError, match="alkalinity"):
        with_ph(water(na=0.1, alkalinity=0.1), 10.5)


def test_many_waters_answer_as_each_alone() -> None:
    """A batch larger than what is solved in one go gives the same as single waters."""
    crowd, measured = random_waters(MANY_AT_ONCE + 5, seed=11)
    together = ec25_us_cm(with_ph(crowd, measured))
    for place in (0, MANY_AT_ONCE - 1, MANY_AT_ONCE, MANY_AT_ONCE + 4):
        alone = ec25_us_cm(with_ph(crowd.at(place), float(measured[place])))
        assert float(alone) == pytest.approx(float(together[place]), rel=1e-6)


def test_shape_of_waters_and_temperatures_is_kept() -> None:
    """A column of waters against a row of temperatures gives a grid."""
    made = water(ca=np.array([[1.0], [2.0]]), alkalinity=np.array([[2.0], [4.0]]))
    found = speciate(made, np.array([5.0, 25.0, 60.0]))

    assert found.ph.shape == (2, 3)
    assert ec_us_cm(found).shape == (2, 3)
    assert np.all(np.diff(ec_us_cm(found), axis=1) > 0)


def test_ion_pairs_take_conductivity_away() -> None:
    """Gypsum water conducts less than its ions would without pairing."""
    gypsum = water(ca=5.0, so4=5.0)
    found = speciate(gypsum)

    assert float(found.molality("CaSO4")) > 5e-4
    assert float(found.molality("Ca")) < 4.5e-3


def test_acid_beyond_alkalinity_still_has_an_answer() -> None:
    """1 meq/L of mineral acid (alkalinity below 0) is pH 3."""
    assert float(ph(water(cl=1.0, alkalinity=-1.0, dic=0.5))) == pytest.approx(3.0, abs=0.05)
