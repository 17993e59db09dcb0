"""How much is drawn, by weekday and hour, and how long what is left will last.

Learns from whole local days; a day with a long silence of the meters does not count. A weekday's
habit is an exponentially fading mean, so a change of season or of opening hours is followed within
weeks, and a closed day settles near zero.
"""

from __future__ import annotations

import math
from functools import lru_cache

import msgspec
import numpy as np

from analytics.opening import open_minutes
from analytics.samples import DAY_MS, HOUR_MS, Draws, Floats, Forecast, Ints, Spread
from analytics.setup import Closures, LineSetup, LocalTime, Opening

FADE = 0.8
"""Weight a weekday's earlier days keep when a new one comes in: about five weeks count."""
PRIOR_WEEKS = 0.35
"""How many weeks the first guess (the mean over all days) counts in each weekday."""
HABIT_SD = 0.10
"""Slow change of a place's use that no forecast knows, relative."""
Z95 = 1.6449


class Usage(msgspec.Struct, frozen=True, kw_only=True):
    """What was learnt of the place's use; litres as the stated K-factor counts them.

    `litres`, `squares` and `weight` are fading sums by weekday; `hours` fading litres by hour.
    `day` is the number of the local day that is running, `today_l` its litres so far.
    """

    litres: tuple[float, ...] = (0.0,) * 7
    squares: tuple[float, ...] = (0.0,) * 7
    weight: tuple[float, ...] = (0.0,) * 7
    days_seen: tuple[int, ...] = (0,) * 7
    hours: tuple[float, ...] = (0.0,) * 24
    day: int = -1
    first_day: int = -1
    today_l: float = 0.0
    gap_ms: int = 0


def observe(
    usage: Usage, draws: Draws, pulses_per_l: float, at_ms: int, gap_ms: int, local: LocalTime
) -> Usage:
    """Count the draws of one step that ended by `at_ms`; `gap_ms` of it the meters were silent."""
    offset = local.offset_ms(at_ms)
    ends: Ints = draws.end_ms + offset
    days = ends // DAY_MS
    litres = draws.pulses / pulses_per_l
    for day in dict.fromkeys(days.tolist()):
        usage = _turn_to(usage, day)
        drawn = usage.today_l + float(litres[days == day].sum())
        usage = msgspec.structs.replace(usage, today_l=drawn)
    usage = _turn_to(usage, (at_ms - 1 + offset) // DAY_MS)
    by_hour = np.bincount(ends // HOUR_MS % 24, weights=litres, minlength=24)
    hours = tuple((np.array(usage.hours) + by_hour).tolist())
    return msgspec.structs.replace(usage, hours=hours, gap_ms=usage.gap_ms + gap_ms)


def _turn_to(usage: Usage, day: int) -> Usage:
    """Close the local days before `day`; days without a draw count as days of zero litres."""
    if usage.day < 0:
        return msgspec.structs.replace(usage, day=day, first_day=day)
    while usage.day < day:
        usage = _close_day(usage)
    return usage


def _close_day(usage: Usage) -> Usage:
    known = usage.gap_ms < 4 * HOUR_MS and usage.day != usage.first_day
    turned = msgspec.structs.replace(
        usage, day=usage.day + 1, today_l=0.0, gap_ms=0, hours=tuple(0.97 * h for h in usage.hours)
    )
    if not known:
        return turned
    place = (usage.day + 3) % 7

    def fold(values: tuple[float, ...], new: float) -> tuple[float, ...]:
        return (*values[:place], FADE * values[place] + new, *values[place + 1 :])

    seen = usage.days_seen
    return msgspec.structs.replace(
        turned,
        litres=fold(usage.litres, usage.today_l),
        squares=fold(usage.squares, usage.today_l**2),
        weight=fold(usage.weight, 1.0),
        days_seen=(*seen[:place], seen[place] + 1, *seen[place + 1 :]),
    )


def stated_a_day(line: LineSetup) -> float:
    """Litres a day where no flow meter counts; 0 where none are stated either."""
    return line.litres_a_day or 0.0


@lru_cache(maxsize=16)
def open_shares(opening: Opening) -> Floats:
    """Share of each hour of the week (7 x 24) in which the place is open."""
    return np.array(
        [
            [open_minutes(opening, d, 60 * h, 60 * h + 60) / 60.0 for h in range(24)]
            for d in range(7)
        ]
    )


def open_weights(opening: Opening) -> Floats:
    """How much of the week's open time falls on each weekday, 1 on average; all 1 where the place
    never opens by its hours."""
    daily = open_shares(opening).sum(axis=1)
    return np.asarray(daily * 7.0 / daily.sum()) if daily.sum() > 0.0 else np.ones(7)


def stated_l(
    line: LineSetup, local: LocalTime, begin_ms: int, end_ms: int, shut: Closures
) -> float:
    """Litres of stated use between two instants: drawn in open hours, none in a closure."""
    open_hours = open_shares(line.opening)
    week, drawn, at = float(open_hours.sum()), 0.0, begin_ms
    while at < end_ms:
        edge = min((at // HOUR_MS + 1) * HOUR_MS, end_ms)
        weekday, hour = local.weekday_and_hour(at)
        share = float(open_hours[weekday, hour]) / week if week > 0.0 else 1.0 / 168.0
        if not any(first <= at < until for first, until in shut):
            drawn += share * (edge - at) / HOUR_MS
        at = edge
    return 7.0 * stated_a_day(line) * drawn


def forecast(usage: Usage, line: LineSetup) -> Forecast:
    """Litres expected a day, by weekday; before a full week the mean or the stated use serves,
    spread over the days by the place's opening hours."""
    weight = np.array(usage.weight)
    total = np.array(usage.litres)
    spread_over = open_weights(line.opening)
    if not line.flow_meter:
        overall, total, weight = stated_a_day(line), np.zeros(7), np.zeros(7)
    elif (open_days := float(weight @ spread_over)) > 0.0:
        overall = float(total.sum()) / open_days
    else:
        overall = line.litres_a_day if line.litres_a_day is not None else usage.today_l
    first = overall * spread_over
    mean = (total + PRIOR_WEEKS * first) / (weight + PRIOR_WEEKS)
    squares = np.array(usage.squares) + PRIOR_WEEKS * (1.25 * first**2)
    variance = np.maximum(squares / (weight + PRIOR_WEEKS) - mean**2, (0.05 * overall) ** 2)
    return Forecast(
        litres_by_weekday=tuple(mean.tolist()),
        sd_by_weekday=tuple(np.sqrt(variance).tolist()),
        days_seen=usage.days_seen,
    )


def expected_l(
    usage: Usage, line: LineSetup, begin_ms: int, end_ms: int, local: LocalTime
) -> float:
    """Litres that are usual between two instants less than a few days apart."""
    if sum(usage.hours) <= 0.0 or end_ms <= begin_ms:
        return 0.0
    week = week_ahead(np.array(forecast(usage, line).litres_by_weekday), usage, line.opening)
    expected, at = 0.0, begin_ms
    while at < end_ms:
        edge = min((at // HOUR_MS + 1) * HOUR_MS, end_ms)
        weekday, hour = local.weekday_and_hour(at)
        expected += float(week[weekday, hour]) * (edge - at) / HOUR_MS
        at = edge
    return expected


def days_until(
    ahead: Forecast,
    usage: Usage,
    remaining: Spread,
    at_ms: int,
    local: LocalTime,
    most: float,
    opening: Opening,
    shut: Closures = (),
) -> Spread | None:
    """Days until `remaining` litres are drawn, with both doubts; None where nothing is drawn.

    Nothing is drawn in an announced closure (`shut`).

    The habit is walked forward from now by weekday and hour; the spread joins that of the litres
    and that of the demand (day-to-day scatter and a slow change of habit) on the scale of
    logarithms. `most` days are looked ahead at most.
    """
    daily = np.array(ahead.litres_by_weekday)
    if daily.sum() <= 0.0 or not math.isfinite(remaining.p50):
        return None
    edges, drawn = _walk(week_ahead(daily, usage, opening), at_ms, local, most, shut)
    middle = max(remaining.p50, 1e-3)
    horizon = float(np.interp(middle, drawn, edges))
    scatter = float(np.sqrt(np.mean(np.square(ahead.sd_by_weekday)) * max(horizon, 0.5)))
    seen = sum(ahead.days_seen)
    habit = math.hypot(HABIT_SD, scatter / middle, 0.5 / math.sqrt(1.0 + seen))
    habit = min(habit, 1.5)
    down = math.hypot(math.log(middle / max(remaining.p05, 0.01 * middle)) / Z95, habit)
    up = math.hypot(min(math.log(max(remaining.p95, middle) / middle), 5.0) / Z95, habit)
    ends = middle * np.exp(np.array([0.0, -Z95 * down, Z95 * up]))
    if remaining.p05 <= 0.0:
        ends[1] = 0.0
    p50, p05, p95 = np.interp(ends, drawn, edges).tolist()
    return Spread(p50=p50, p05=p05, p95=p95)


def week_ahead(daily: Floats, usage: Usage, opening: Opening) -> Floats:
    """Litres expected in each hour of the week (7 x 24): the day's litres by the hours' habit, in
    the hours the place is open. A day of use with no open hour keeps the habit alone."""
    learnt = np.array(usage.hours)
    habit = learnt + 1e-9 + 0.02 * learnt.sum() / 24
    inside = habit[None, :] * open_shares(opening)
    inside = np.where(inside.sum(axis=1, keepdims=True) > 0.0, inside, habit[None, :])
    return np.asarray(daily[:, None] * inside / inside.sum(axis=1, keepdims=True))


def _walk(
    week: Floats, at_ms: int, local: LocalTime, most: float, shut: Closures
) -> tuple[Floats, Floats]:
    """Days from now (edges of hours) and the litres expected to be drawn by then."""
    weekday, hour = local.weekday_and_hour(at_ms)
    ahead = np.tile(np.roll(week.ravel(), -(24 * weekday + hour)), math.ceil(most / 7.0))
    middle = at_ms + (np.arange(len(ahead)) + 0.5) * HOUR_MS
    for first, until in shut:
        ahead = np.where((middle >= first) & (middle < until), 0.0, ahead)
    drawn = np.concatenate(([0.0], np.cumsum(ahead)))
    return np.arange(len(drawn)) / 24.0, drawn
