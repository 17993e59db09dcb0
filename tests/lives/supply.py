"""What the main delivers hour by hour: two or three waters in drifting shares, and how warm."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from .waters import RawWater, mixture

HOUR_S = 3600


class Switch(NamedTuple):
    """The utility goes over to another water: seconds from the installation, and how long."""

    start_s: float
    ramp_s: float
    water: RawWater


class Supply:
    """Raw water composition and temperature as functions of seconds since the installation."""

    def __init__(self, hours_s: np.ndarray, rows: np.ndarray, cold_c: np.ndarray) -> None:
        self.hours_s = hours_s
        self.rows = rows
        self.cold_c = cold_c

    def at(self, seconds: float) -> np.ndarray:
        """One row (Ca, Mg, Na, K, Cl, SO4, alk, pH)."""
        place = np.interp(seconds, self.hours_s, np.arange(len(self.hours_s)))
        low = int(place)
        high = min(low + 1, len(self.hours_s) - 1)
        part = place - low
        return np.asarray((1 - part) * self.rows[low] + part * self.rows[high])

    def temperature_c(self, seconds: np.ndarray) -> np.ndarray:
        """Temperature of the main."""
        return np.interp(seconds, self.hours_s, self.cold_c)


def wander(count: int, memory: float, spread: float, rng: np.random.Generator) -> np.ndarray:
    """A mean-reverting random walk: `memory` in steps, `spread` its standard deviation."""
    keep = float(np.exp(-1 / memory))
    pushes = rng.normal(0, spread * np.sqrt(1 - keep * keep), count)
    out = np.empty(count)
    value = float(rng.normal(0, spread))
    for i, push in enumerate(pushes):
        value = keep * value + push
        out[i] = value
    return out


def supply(
    pair: tuple[RawWater, RawWater],
    days: float,
    day_of_year: float,
    seasonal_days: float | None,
    switch: Switch | None,
    rng: np.random.Generator,
) -> Supply:
    """The main over `days`; `seasonal_days` is how long a full change of water takes."""
    hours_s = np.arange(int(days * 24) + 1) * float(HOUR_S)
    count = len(hours_s)
    second = _second_share(count, seasonal_days, rng)
    strength = 1 + _daily(count, wander(count // 24 + 2, 4.0, 0.008, rng))
    weights = np.stack([1 - second, second], axis=1) * strength[:, None]
    waters: tuple[RawWater, ...] = pair
    if switch is not None:
        new = np.clip((hours_s - switch.start_s) / switch.ramp_s, 0, 1) * strength
        weights = np.column_stack([weights * (1 - new / strength)[:, None], new])
        waters = (*pair, switch.water)
    rows = mixture(waters, weights)
    rows[:, 7] /= weights.sum(axis=1)
    return Supply(hours_s, rows, _cold(hours_s, day_of_year, rng))


def _second_share(count: int, seasonal_days: float | None, rng: np.random.Generator) -> np.ndarray:
    slow = 0.3 + _daily(count, wander(count // 24 + 2, 25.0, 0.28, rng))
    if seasonal_days is None:
        return np.clip(slow, 0, 1)
    middle, width = seasonal_days * float(rng.uniform(0.35, 0.65)), seasonal_days / 7
    days = np.arange(count) / 24
    return np.clip(1 / (1 + np.exp(-(days - middle) / width)) + 0.15 * (slow - 0.3), 0, 1)


def _daily(count: int, values: np.ndarray) -> np.ndarray:
    """Daily values drawn out to hours."""
    return np.interp(np.arange(count) / 24, np.arange(len(values)), values)


def _cold(hours_s: np.ndarray, day_of_year: float, rng: np.random.Generator) -> np.ndarray:
    """Main temperature: warmest in mid August, coldest in mid February."""
    mean, swing = float(rng.uniform(12.5, 17.0)), float(rng.uniform(3.0, 5.5))
    day = day_of_year + hours_s / 86400
    season = mean + swing * np.cos(2 * np.pi * (day - 227) / 365.25)
    return np.asarray(season + _daily(len(hours_s), wander(len(hours_s) // 24 + 2, 4, 0.35, rng)))
