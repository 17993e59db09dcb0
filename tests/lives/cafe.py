"""A cafe's week as water: opening flush, coffees, hot water, boiler fills, the rinse at closing."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import msgspec
import numpy as np

DAY_S = 86400
_LITRES_A_COFFEE = 0.21


class Habits(msgspec.Struct, frozen=True, kw_only=True):
    """When a cafe trades and how much it draws. Hours are local, weekday 0 is Monday."""

    litres_a_day: float
    weekday: tuple[float, ...]
    opens_h: float
    closes_h: float
    rush_h: float
    rush_share: float
    shot_l_s: float
    shut: tuple[tuple[int, int], ...] = ()


class Draws(msgspec.Struct, frozen=True, kw_only=True):
    """Draws in order of start: seconds since the installation, seconds long, litres a second."""

    start_s: np.ndarray
    length_s: np.ndarray
    rate_l_s: np.ndarray


class Flow:
    """Litres through the filter head as a function of time."""

    def __init__(self, draws: Draws) -> None:
        times = np.concatenate([draws.start_s, draws.start_s + draws.length_s])
        steps = np.concatenate([draws.rate_l_s, -draws.rate_l_s])
        order = np.argsort(times, kind="stable")
        self._times = np.concatenate([[0.0], times[order]])
        rates = np.cumsum(steps[order])
        litres = np.concatenate([[0.0], np.cumsum(rates[:-1] * np.diff(times[order]))])
        self._litres = np.concatenate([[0.0], litres])

    def litres(self, seconds: np.ndarray) -> np.ndarray:
        """Litres passed since the installation."""
        return np.interp(seconds, self._times, self._litres)

    def when(self, litres: np.ndarray) -> np.ndarray:
        """Seconds at which that many litres have passed."""
        return np.interp(litres, self._litres, self._times)


def habits(litres_a_day: float, rng: np.random.Generator) -> Habits:
    """A cafe drawn at random: hours, rush, busy and closed weekdays."""
    week = rng.uniform(0.8, 1.15, 7)
    week[5] *= rng.uniform(1.15, 1.7)
    week[6] *= rng.uniform(0.9, 1.4)
    if rng.random() < 0.45:
        week[int(rng.integers(0, 7))] = 0.0
    week *= 7 / week.sum()
    opens = float(rng.choice([6, 6, 7, 7, 8]))
    return Habits(
        litres_a_day=litres_a_day,
        weekday=tuple(float(value) for value in week),
        opens_h=opens,
        closes_h=opens + float(rng.choice([8, 9, 10, 10, 11, 12])),
        rush_h=float(rng.uniform(1.2, 3.0)),
        rush_share=float(rng.uniform(0.35, 0.65)),
        shot_l_s=float(rng.uniform(0.0023, 0.0036)),
    )


def draws(
    cafe: Habits, install: datetime, utc_offset_h: float, days: int, rng: np.random.Generator
) -> Draws:
    """All draws of `days` days from the installation (UTC), none in its first hour."""
    local = install.astimezone(UTC) + timedelta(hours=utc_offset_h)
    midnight_s = -(local.hour * 3600 + local.minute * 60 + local.second)
    parts = []
    for day in range(days):
        factor = cafe.weekday[(local.weekday() + day) % 7]
        litres = cafe.litres_a_day * factor * float(np.exp(rng.normal(0, 0.08)))
        if factor > 0 and not any(first <= day < last for first, last in cafe.shut):
            parts.append(_day(cafe, litres, rng) + np.array([midnight_s + day * DAY_S, 0, 0]))
    table = np.concatenate(parts)
    table = table[table[:, 0] >= 3600 + rng.uniform(5, 200)]
    table = table[np.argsort(table[:, 0], kind="stable")]
    return Draws(start_s=table[:, 0], length_s=table[:, 1], rate_l_s=table[:, 2])


def with_leak(base: Draws, start_s: float, end_s: float, litres_an_hour: float) -> Draws:
    """The same draws and a steady trickle from `start_s` to `end_s`."""
    return Draws(
        start_s=np.append(base.start_s, start_s),
        length_s=np.append(base.length_s, end_s - start_s),
        rate_l_s=np.append(base.rate_l_s, litres_an_hour / 3600),
    )


def _day(cafe: Habits, litres: float, rng: np.random.Generator) -> np.ndarray:
    """Rows (start, length, rate) of one trading day, seconds from local midnight."""
    flush = np.array([[(cafe.opens_h - 25 / 60) * 3600, 60.0, 0.020]])
    rinse_s = cafe.closes_h * 3600 + rng.uniform(280, 420)
    rinse = np.array([[rinse_s + 24 * i, 8.0, 0.020] for i in range(10)])
    coffees = int(rng.poisson(max(litres - 2.8, 1.0) / _LITRES_A_COFFEE))
    return _in_turn(np.concatenate([flush, _coffees(cafe, coffees, rng), rinse]))


def _in_turn(table: np.ndarray) -> np.ndarray:
    """The same draws one after the other: a draw waits until the one before it is done."""
    out = table[np.argsort(table[:, 0], kind="stable")]
    free = 0.0
    starts = []
    for start, length in out[:, :2].tolist():
        starts.append(max(start, free))
        free = starts[-1] + length + 0.4
    return np.column_stack([starts, out[:, 1:]])


def _coffees(cafe: Habits, count: int, rng: np.random.Generator) -> np.ndarray:
    """Group flush, shot, and now and then a boiler fill or a jug of hot water, per coffee."""
    span_h = cafe.closes_h - cafe.opens_h
    rush = rng.random(count) < cafe.rush_share
    hour = np.where(rush, rng.normal(cafe.rush_h, 0.75, count), rng.uniform(0, span_h, count))
    hour = np.where((hour < 0) | (hour > span_h), rng.uniform(0, span_h, count), hour)
    start = (cafe.opens_h + hour) * 3600
    rinse = np.stack([start, rng.uniform(3.5, 6, count), rng.uniform(0.008, 0.0105, count)], 1)
    brew = start + rinse[:, 1] + rng.uniform(8, 13, count)
    rate = cafe.shot_l_s * np.exp(rng.normal(0, 0.1, count))
    shot = np.stack([brew, rng.normal(27, 2.5, count), rate], 1)
    fill = rng.random(count) < 0.3
    after = brew[fill] + shot[fill, 1] + rng.uniform(0, 12, fill.sum())
    boiler = np.stack(
        [after, rng.uniform(4, 13, fill.sum()), rng.uniform(0.015, 0.038, fill.sum())], 1
    )
    jug = rng.random(count) < 0.08
    tea = np.stack(
        [
            start[jug] + rng.uniform(0, 60, jug.sum()),
            rng.uniform(8, 14, jug.sum()),
            rng.uniform(0.013, 0.026, jug.sum()),
        ],
        1,
    )
    return np.concatenate([rinse, shot, boiler, tea])
