"""Gain of one probe against another: drift is learnt, a front is not taken for it."""

from __future__ import annotations

import numpy as np
import pytest

from analytics.baseline import (
    Cloud,
    corrected,
    elapse,
    known_gain,
    moved_over,
    paced,
    start_baseline,
    turned_round,
)
from analytics.samples import Floats

COUNT = 400
NOISE = 0.0008


def begun() -> Cloud:
    """Both probes have just read one water; guesses that think the water steady, and no film."""
    rng = np.random.default_rng(3)
    cloud = start_baseline(COUNT, True, rng) | known_gain(COUNT, 0.01, 0.004)
    steady = {"wander": np.full(COUNT, 6e-5), "noise": np.full(COUNT, NOISE)}
    return cloud | steady


def followed(cloud: Cloud, readings: Floats) -> Cloud:
    """The baseline after a reading a day."""
    for day, reading in enumerate(readings):
        cloud = cloud | elapse(cloud, 1.0, 0.005, np.random.default_rng(day))[0]
        off = reading - cloud["gain"]
        before = cloud["gain_var"]
        cloud = cloud | corrected(cloud, before, off, 1.0 / (before + NOISE**2))
    return cloud


def drifting(days: int, a_day: float) -> Floats:
    """Readings of a probe that drifts steadily."""
    noise = NOISE * np.random.default_rng(11).standard_normal(days)
    return np.asarray(0.012 + a_day * np.arange(days) + noise)


def test_a_steady_drift_is_learnt_and_carried_on() -> None:
    """After forty days the drift is known to a fifth and so is the gain ten days ahead."""
    cloud = followed(begun(), drifting(40, 3e-4))
    clean = cloud["fouled"] == 0.0
    slope = float(np.median(cloud["slope"][clean]))
    ahead = elapse(cloud, 10.0, 0.005, np.random.default_rng(99))[0]

    assert slope == pytest.approx(3e-4, rel=0.2)
    assert np.median(ahead["gain"][clean]) == pytest.approx(0.012 + 3e-4 * 49, abs=0.0015)


def test_a_front_stands_out_against_the_drift_so_far() -> None:
    """A rise of half a per cent in five days is many standard errors from what was to come."""
    cloud = followed(begun(), drifting(40, 1e-4))
    clean = cloud["fouled"] == 0.0
    ahead = elapse(cloud, 5.0, 0.005, np.random.default_rng(99))[0]
    off = 0.012 + 1e-4 * 44 + 0.005 - ahead["gain"][clean]

    assert np.median(off / np.sqrt(ahead["gain_var"][clean] + NOISE**2)) > 4.0


def test_a_film_is_tried_by_some_guesses_that_weigh_the_less_for_it() -> None:
    """A film pulls low, and trying it often does not make it likely."""
    cloud = begun()
    after, tried = elapse(cloud, 5.0, 0.005, np.random.default_rng(1))
    film = after["fouled"] > 0.5
    chance = float(np.sum(np.exp(tried)[film]) / COUNT)

    assert 0.01 < film.mean() < 0.1
    assert chance < 0.01
    assert np.all(after["gain"][film] < after["gain"][after["fouled"] == 0.0].min())


def test_a_moved_guess_keeps_its_readings_explained_at_a_price() -> None:
    """Gain takes over what the model moved by; the farther from what is likely, the dearer."""
    cloud = begun()
    columns, odds = moved_over(cloud, np.linspace(-0.02, 0.02, COUNT))

    assert np.allclose(columns["gain"] + np.linspace(-0.02, 0.02, COUNT), cloud["gain"])
    assert odds[0] < odds[COUNT // 4] < odds[COUNT // 2] <= 0.01


def test_a_front_modelled_too_steep_leaves_the_drift_unsure() -> None:
    """Where the modelled ratio changes its pace, drift is less known than where it does not."""
    cloud = begun()
    still, steep = (
        paced(cloud, np.zeros(COUNT), 1.0, 0.2),
        paced(cloud, np.full(COUNT, 1e-2), 1.0, 0.2),
    )

    assert np.all(still["slope_var"] == cloud["slope_var"])
    assert np.all(steep["slope_var"] > 4.0 * cloud["slope_var"])


def test_exchanged_probes_turn_gain_and_drift_about() -> None:
    """What the outlet read too high the inlet reads too high now."""
    turned = turned_round(begun())

    assert np.allclose(turned["gain"], -0.01)
    assert np.allclose(turned["free"], -0.01)
