"""Fits of calibration points against scipy and against simulated truth."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import optimize, stats

from analytics.calibration import (
    JUG_SD,
    T_95,
    Jug,
    ProbePoint,
    cell_fit,
    gain_at,
    jugs_apart,
    k_factor,
    k_in_use,
    line_with_errors,
    low_flow,
    temperature_coefficient,
)
from analytics.chemistry.kcl import standard_us_cm
from analytics.errors import ModelError

PEARSON = (
    np.array([0.0, 0.9, 1.8, 2.6, 3.3, 4.4, 5.2, 6.1, 6.5, 7.4]),
    1.0 / np.sqrt([1000.0, 1000.0, 500.0, 800.0, 200.0, 80.0, 60.0, 20.0, 1.8, 1.0]),
    np.array([5.9, 5.4, 4.4, 4.6, 3.5, 3.7, 2.8, 2.8, 2.4, 1.5]),
    1.0 / np.sqrt([1.0, 1.8, 4.0, 8.0, 20.0, 20.0, 70.0, 70.0, 100.0, 500.0]),
)
"""Pearson's data with York's weights, the usual test of such fits."""


def test_line_agrees_with_the_published_one() -> None:
    """York et al. 2004, table II: intercept 5.47991022, slope -0.480533407, chi2/8 = 1.4833."""
    line = line_with_errors(*PEARSON)

    assert line.slope == pytest.approx(-0.480533407, abs=1e-8)
    assert line.intercept == pytest.approx(5.47991022, abs=1e-7)
    assert line.misfit == pytest.approx(1.4832942, abs=1e-5)
    assert math.sqrt(line.slope_var / line.misfit) == pytest.approx(0.0579850, abs=1e-6)
    assert math.sqrt(line.intercept_var / line.misfit) == pytest.approx(0.2949706, abs=1e-5)


@pytest.mark.parametrize("seed", range(6))
def test_line_is_the_least_of_the_weighted_squares(seed: int) -> None:
    """Where scipy finds the minimum of the squares over both coordinates' variances."""
    rng = np.random.default_rng(seed)
    x = np.linspace(0.0, 1400.0, 5) + rng.normal(0.0, 4.0, 5)
    x_sd, y_sd = rng.uniform(1.0, 6.0, 5), rng.uniform(1.0, 8.0, 5)
    y = 3.0 + 1.02 * x + rng.normal(0.0, y_sd)

    line = line_with_errors(x, x_sd, y, y_sd)

    def squares(b: np.ndarray) -> float:
        off = y - b[0] - b[1] * x
        return float((off**2 / (y_sd**2 + b[1] ** 2 * x_sd**2)).sum())

    options = {"xatol": 1e-10, "fatol": 1e-12, "maxiter": 20_000, "maxfev": 20_000}
    found = optimize.minimize(squares, [0.0, 1.0], method="Nelder-Mead", options=options)

    assert line.slope == pytest.approx(found.x[1], rel=1e-6)
    assert line.intercept == pytest.approx(found.x[0], abs=1e-3)


def test_a_line_needs_two_different_points() -> None:
    """One point says nothing of a slope."""
    one = np.array([1.0, 1.0])
    with pytest.raises(ModelError, match="two different points"):
        line_with_errors(one, one, one, one)


def test_a_line_needs_points_further_apart_than_their_errors() -> None:
    """Jugs that all took as long, as far as can be told, give no slope and no division by zero."""
    slow = np.array([0.01735, 0.01666667, 0.01666667, 0.01735, 0.01666667, 0.01666667])
    found = np.array([1400.0, 1404.0, 1396.0, 1340.0, 1336.0, 1344.0])

    with pytest.raises(ModelError, match="further apart"):
        line_with_errors(slow, np.full(6, 0.00833333), found, 0.005 * found)


def test_points_of_students_t() -> None:
    """The table is the distribution's."""
    assert list(T_95) == pytest.approx([stats.t.ppf(0.95, n) for n in range(1, 11)], abs=5e-4)


def test_cell_of_a_probe_covers_the_truth() -> None:
    """Dry and one standard, 3000 installers: 95 % ranges hold the gain in about 95 of 100."""
    rng = np.random.default_rng(1)
    inside_gain = inside_dry = 0
    for _ in range(3000):
        gain, dry, temp = rng.normal(1.0, 0.03), rng.normal(0.0, 2.0), rng.uniform(15.0, 28.0)
        label = float(standard_us_cm(1413.0 * (1.0 + 0.005 * rng.standard_normal()), temp))
        said = float(standard_us_cm(1413.0, temp + 0.3 * rng.standard_normal()))
        true_sd = math.hypot(0.005, 0.3 * 0.0192) * said
        fit = cell_fit(
            (
                ProbePoint(
                    read_us_cm=dry + 0.3 * rng.standard_normal(),
                    read_sd=0.3,
                    true_us_cm=0.0,
                    true_sd=0.1,
                ),
                ProbePoint(
                    read_us_cm=label / gain + dry + 2.0 * rng.standard_normal(),
                    read_sd=2.0,
                    true_us_cm=said,
                    true_sd=true_sd,
                ),
            )
        )
        inside_gain += abs(fit.gain.value - gain) < 1.96 * fit.gain.sd
        inside_dry += abs(fit.dry_us_cm.value - dry) < 1.96 * fit.dry_us_cm.sd
    assert 0.93 < inside_gain / 3000 < 0.97
    assert 0.93 < inside_dry / 3000 < 0.98


def test_gain_where_the_probe_works_takes_the_dry_reading_off() -> None:
    """A probe that reads 4 uS/cm dry reads 1 % too much at 400."""
    dry = ProbePoint(read_us_cm=4.0, read_sd=0.1, true_us_cm=0.0, true_sd=0.1)
    standard = ProbePoint(read_us_cm=1417.0, read_sd=1.0, true_us_cm=1413.0, true_sd=5.0)

    fit = cell_fit((dry, standard))

    assert fit.gain.value == pytest.approx(1.0, abs=1e-9)
    assert gain_at(fit, 400.0).value == pytest.approx(0.99, abs=1e-6)


def test_temperature_coefficient_covers_the_truth() -> None:
    """Five temperatures of one liquid: 95 % ranges hold in about 95 of 100."""
    rng = np.random.default_rng(2)
    temps, inside = np.array([8.0, 12.0, 18.0, 24.0, 30.0]), 0
    for _ in range(2000):
        a = rng.normal(0.0191, 0.001)
        read = 500.0 * (1.0 + a * (temps - 25.0)) + rng.normal(0.0, 1.5, 5)
        found = temperature_coefficient(temps + rng.normal(0.0, 0.2, 5), 0.2, read, np.full(5, 1.5))
        inside += abs(found.value - a) < 1.96 * found.sd
    assert 0.93 < inside / 2000 < 0.985


def jugs(rng: np.random.Generator, k: float, flow: float, n: int, off: float) -> tuple[Jug, ...]:
    """Jugs of one flow, all read wrong by the same `off`, each a little by itself."""
    found = []
    for _ in range(n):
        litres = rng.uniform(0.9, 1.1)
        pulses = int(k * litres * (1.0 + 0.004 * rng.standard_normal()) + rng.random())
        seconds = litres / flow * 60.0 + rng.normal(0.0, 1.0)
        found.append(Jug(pulses=pulses, litres=litres * (1.0 + off), seconds=seconds))
    return tuple(found)


def test_k_factor_covers_the_truth() -> None:
    """Three jugs with one jug's own error: 90 % ranges hold in about 90 of 100."""
    rng = np.random.default_rng(3)
    inside = 0
    for _ in range(4000):
        k = rng.uniform(500.0, 2000.0)
        found = k_factor(jugs(rng, k, 2.0, 3, JUG_SD * rng.standard_normal()))
        inside += abs(found.value - k) < 1.645 * found.sd
    assert 0.87 < inside / 4000 < 0.95


def test_a_turbine_that_under_reads_at_a_trickle() -> None:
    """From jugs at two flows: its starting flow, and K at any flow between."""
    rng = np.random.default_rng(4)

    def k(flow: float) -> float:
        return 1400.0 * (1.0 - 0.02 / flow)

    taken = jugs(rng, k(2.5), 2.5, 3, 0.0) + jugs(rng, k(0.25), 0.25, 3, 0.0)
    found = low_flow(taken)

    assert found.slip_l_min.value == pytest.approx(0.02, abs=2.5 * found.slip_l_min.sd)
    assert found.slip_l_min.sd < 0.01
    assert found.pulses_per_l(0.5) == pytest.approx(k(0.5), rel=0.02)
    assert found.pulses_per_l(0.001) == 0.0


def test_one_k_factor_for_both_flows_is_as_wide_as_they_are_apart() -> None:
    """Whatever share is drawn slowly, the truth lies within two standard deviations."""
    rng = np.random.default_rng(5)
    full = k_factor(jugs(rng, 1400.0, 2.5, 3, 0.0))
    brew = k_factor(jugs(rng, 1300.0, 0.25, 3, 0.0))

    both = k_in_use(full, brew)

    assert both.value == pytest.approx(1350.0, rel=0.01)
    assert both.value + 2.0 * both.sd > 1400.0
    assert both.value - 2.0 * both.sd < 1300.0


def test_jugs_that_disagree_are_seen() -> None:
    """Greatest over least."""
    one = Jug(pulses=1000, litres=1.0, seconds=30.0)
    other = Jug(pulses=1080, litres=1.0, seconds=30.0)

    assert jugs_apart((one, other)) == pytest.approx(0.08)
