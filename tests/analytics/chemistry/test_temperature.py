"""Referring conductivity to 25 C, and the trim a site learns from its own draws."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analytics.chemistry.carbonate import with_ph
from analytics.chemistry.conductivity import ec_at_us_cm
from analytics.chemistry.temperature import (
    USUAL_TRIM_SD_PER_K,
    Trim,
    ec25_linear,
    ec25_natural,
    ec_at_20,
    ec_natural,
    f25,
    inside_iso_7888,
    learn_trim,
)
from tests.check_values.tap_waters import FOUR

TRUE_TRIM = -0.0015


def _site(
    count: int, noise: float, seed: int, trim: float = TRUE_TRIM
) -> tuple[np.ndarray, np.ndarray]:
    """Draws with seasons, standing warm water, a drift and a source switch in the middle."""
    rng = np.random.default_rng(seed)
    place = np.arange(count)
    temp_c = 12 + 5 * np.sin(place / 500) + rng.exponential(3.0, count)
    true = 500 * (1 + 0.1 * np.sin(place / 480)) * np.where(place > count // 2, 1.3, 1.0)
    read = true / (1 + trim * (temp_c - 25)) * np.exp(rng.normal(0, noise, count))
    return read, temp_c


@given(st.floats(0.0, 35.9))
def test_the_curve_and_its_inverse_undo_each_other(temp_c: float) -> None:
    """EC at temperature of EC25 of a reading is the reading."""
    assert float(ec_natural(ec25_natural(437.0, temp_c), temp_c)) == pytest.approx(437.0)


def test_the_factor_falls_steadily_also_beyond_the_standard() -> None:
    """Warmer water has a smaller factor from -5 to 80 C, with no jump at the ends."""
    temps = np.linspace(-5.0, 80.0, 1701)
    steps = np.diff(f25(temps))

    assert np.all(steps < 0)
    assert np.abs(np.diff(steps)).max() < 1e-4


def test_the_standard_s_range_is_0_to_below_36() -> None:
    """ISO 7888 defines the factor for 0 <= t < 36 C."""
    assert inside_iso_7888(np.array([-0.1, 0.0, 35.9, 36.0])).tolist() == [False, True, True, False]


def test_no_reading_stays_no_reading() -> None:
    """A missing temperature or conductivity gives NaN for that row only."""
    found = ec25_natural(np.array([500.0, np.nan, 500.0]), np.array([25.0, 20.0, np.nan]))

    assert found[0] == 500.0
    assert np.isnan(found[1:]).all()


def test_linear_compensation_is_exact_at_25() -> None:
    """At 25 C the straight line changes nothing."""
    assert float(ec25_linear(500.0, 25.0, 2.2)) == 500.0
    assert float(ec_at_20(1116.0)) == pytest.approx(1000.0, abs=0.5)


def test_a_site_s_trim_is_found_through_seasons_drift_and_a_source_switch() -> None:
    """-0.15 %/K is recovered within four standard errors, and the error is small."""
    read, temp_c = _site(3000, noise=0.004, seed=0)
    read[::50] *= 0.8  # bubbles
    found = learn_trim(read, temp_c)

    assert abs(found.per_k - TRUE_TRIM) < 4 * found.se_per_k
    assert found.se_per_k < 5e-5
    assert found.draws == 3000


def test_the_stated_error_is_the_scatter_of_repeated_sites() -> None:
    """Over 100 sites the misses divided by the stated error scatter like 1."""
    misses = []
    for seed in range(100):
        found = learn_trim(*_site(400, noise=0.004, seed=seed))
        misses.append((found.per_k - TRUE_TRIM) / found.se_per_k)

    assert 0.75 < np.std(misses) < 1.35


def test_trimmed_conductivity_no_longer_follows_temperature() -> None:
    """EC25 after the trim has no slope left against temperature."""
    temp_c = np.linspace(4.0, 24.0, 200)
    read = 500.0 / (1 + TRUE_TRIM * (temp_c - 25.0))
    trimmed = learn_trim(read, temp_c).ec25(read, temp_c)

    assert np.ptp(trimmed) < 0.01


@pytest.mark.parametrize("name", FOUR)
def test_trim_explains_real_waters_departure_from_the_curve(name: str) -> None:
    """With the trim, EC25 from 2 to 30 C is right within 0.5 %; without it, 1.8-3.5 % off."""
    ph, source = FOUR[name]
    made = with_ph(source, ph)
    temp_c = np.tile(np.linspace(2.0, 30.0, 15), 8)
    curve = ec25_natural(ec_at_us_cm(made, temp_c), temp_c)
    found = learn_trim(curve, temp_c, block=15)
    exact = float(ec_at_us_cm(made, 25.0))

    assert -0.002 < found.per_k < 0.0
    assert np.abs(found.ec25(curve, temp_c) / exact - 1).max() < 0.005
    assert 0.015 < np.abs(curve / exact - 1).max() < 0.04


def test_draws_at_one_temperature_teach_nothing() -> None:
    """Without a spread of temperature the error is infinite and the trim 0."""
    found = learn_trim(np.full(100, 500.0), np.full(100, 12.0))

    assert found.per_k == 0.0
    assert np.isinf(found.se_per_k)


def test_too_few_or_missing_draws_teach_nothing() -> None:
    """One draw, or none with a reading, leaves the trim unknown."""
    assert np.isinf(learn_trim(np.array([500.0]), np.array([12.0])).se_per_k)
    assert learn_trim(np.full(50, np.nan), np.full(50, 12.0)).draws == 0


def test_an_unknown_trim_is_tempered_to_the_usual_spread() -> None:
    """Knowing nothing, a trim is 0 with the spread among waters; knowing much, it stays."""
    usual = Trim().tempered()
    sure = Trim(per_k=-0.001, se_per_k=1e-6, draws=1000).tempered()

    assert (usual.per_k, usual.se_per_k) == (0.0, USUAL_TRIM_SD_PER_K)
    assert sure.per_k == pytest.approx(-0.001, rel=1e-4)
