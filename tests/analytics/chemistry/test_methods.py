"""How far published methods from ions to conductivity disagree, kept in sight."""

from __future__ import annotations

import numpy as np
import pytest

from analytics.chemistry.carbonate import with_ph
from analytics.chemistry.conductivity import ec_us_cm
from analytics.chemistry.methods import by_every_method, limiting_us_cm, sm2510_us_cm
from analytics.chemistry.speciation import speciate
from analytics.chemistry.treatment import (
    calcium_and_magnesium_for_hydrogen,
    calcium_and_magnesium_for_sodium,
    calcium_for_magnesium,
)
from analytics.chemistry.water import Water, water
from tests.check_values.stuyfzand import ANALYSES, analysis
from tests.check_values.tap_waters import FOUR, random_waters


def test_methods_span_about_a_tenth_on_one_hard_water() -> None:
    """On the hard chalk water the methods differ by 5-12 %: a level from ions is no truth."""
    ph, source = FOUR["W3 hard chalk"]
    found = [float(v) for v in by_every_method(with_ph(source, ph)).values()]

    assert 0.05 < max(found) / min(found) - 1 < 0.12


def test_methods_agree_on_what_a_medium_changes() -> None:
    """What each medium changes, in % of raw, is the same within 3.5 points by speciated methods."""
    crowd, measured = random_waters(100, seed=13)
    raw = with_ph(crowd, measured)
    taken = 0.9 * np.minimum(raw.ca_mmol_l, raw.alkalinity_meq_l / 2)
    for treated in (
        calcium_and_magnesium_for_sodium(raw, raw.ca_mmol_l * 0.99, raw.mg_mmol_l * 0.99),
        calcium_and_magnesium_for_hydrogen(raw, taken, 0.0),
        calcium_for_magnesium(raw, raw.ca_mmol_l * 0.9),
    ):
        changes = _changes(raw, treated)
        assert np.ptp(changes, axis=0).max() < 0.035


def _changes(raw: Water, treated: Water) -> np.ndarray:
    before, after = by_every_method(raw), by_every_method(treated)
    return np.array([after[m] / before[m] - 1 for m in before if m != "SM 2510 B"])


def test_independent_ions_come_nearer_to_real_waters() -> None:
    """Over twelve measured groundwaters the mean error falls below 5 %."""
    errors = {True: [], False: []}
    for number, row in ANALYSES.items():
        found = speciate(analysis(number), 20.0)
        for independent, list_ in errors.items():
            list_.append(float(ec_us_cm(found, independent=independent)) / row[-1] - 1)

    assert np.mean(np.abs(errors[True])) < 0.05 < np.mean(np.abs(errors[False])) < 0.07


def test_one_salt_alone_does_not_care_about_the_weights() -> None:
    """Where each sign has one charge only, both weightings are the same."""
    found = speciate(water(na=5.0, cl=5.0))

    assert float(ec_us_cm(found, independent=True)) == pytest.approx(float(ec_us_cm(found)))


def test_independent_ions_reach_the_limiting_sum_when_thinned() -> None:
    """A mixed salt water of 0.1 meq/L conducts its limiting sum within 3 %, always below."""
    thin = water(ca=0.02, na=0.06, cl=0.06, so4=0.02)
    share = float(ec_us_cm(speciate(thin), independent=True) / limiting_us_cm(thin))

    assert 0.97 < share < 1.0


def test_standard_methods_formula_contradicts_its_own_salt_table() -> None:
    """0.01 mol/L KCl comes out 13 % low: the formula is for bicarbonate drinking water only."""
    assert float(sm2510_us_cm(water(k=10.0, cl=10.0))) == pytest.approx(1223.0, abs=3.0)
