"""Round instants on a time axis, named as a reader of this span names them."""

from __future__ import annotations

from datetime import date, timedelta

import msgspec

from analytics.samples import DAY_MS, HOUR_MS, MINUTE_MS
from dashboards.history.span import Span
from dashboards.phrases.times import When


class Tick(msgspec.Struct, frozen=True, kw_only=True):
    """An instant and its name."""

    at_ms: int
    words: str


ROOM = 70
"""Pixels between two names at least."""
CLOCK_STEPS = tuple(n * MINUTE_MS for n in (1, 2, 5, 10, 15, 30, 60, 120, 180, 360, 720))


def ticks_of(span: Span, when: When, width: int) -> tuple[Tick, ...]:
    """Clock times within two days, days within weeks, months within years, else years."""
    most = max(width // ROOM, 2)
    if span.length_ms <= 2 * DAY_MS + HOUR_MS:
        return _clock(span, when, most)
    if span.length_ms <= 45 * DAY_MS:
        return _days(span, when, most)
    return _months(span, when, most)


def _clock(span: Span, when: When, most: int) -> tuple[Tick, ...]:
    step = next((s for s in CLOCK_STEPS if span.length_ms / s <= most), DAY_MS)
    midnight = when.midnight(when.day(span.from_ms))
    first = midnight + -(-(span.from_ms - midnight) // step) * step
    return tuple(
        Tick(at_ms=at, words=_clock_or_day(at, when)) for at in range(first, span.to_ms, step)
    )


def _clock_or_day(at_ms: int, when: When) -> str:
    clock = when.clock(at_ms)
    return when.brief(when.day(at_ms)) if clock == "00:00" else clock


def _days(span: Span, when: When, most: int) -> tuple[Tick, ...]:
    length = span.length_ms / DAY_MS
    step = next((n for n in (1, 2, 7, 14) if length / n <= most), 14)
    day = when.day(span.from_ms) + timedelta(days=1)
    if step >= 7:
        day += timedelta(days=-day.weekday() % 7)
    found = []
    while (at := when.midnight(day)) < span.to_ms:
        found.append(Tick(at_ms=at, words=when.brief(day)))
        day += timedelta(days=step)
    return tuple(found)


def _months(span: Span, when: When, most: int) -> tuple[Tick, ...]:
    months = span.length_ms / (30.4 * DAY_MS)
    step = next((n for n in (1, 2, 3, 6, 12, 24, 60) if months / n <= most), 120)
    day = when.day(span.from_ms)
    place = day.year * 12 + day.month  # the month after, counted from the year 0
    found: list[Tick] = []
    while True:
        year, month = divmod(place, 12)
        first = date(year, month + 1, 1)
        at = when.midnight(first)
        if at >= span.to_ms:
            return tuple(found)
        if place % step == 0:
            words = str(year) if step >= 12 else when.month_short(first)
            found.append(Tick(at_ms=at, words=words))
        place += 1
