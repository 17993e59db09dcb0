"""The ruler of days on the end line: where ticks, box and stroke stand, as fractions."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta

import msgspec

from analytics.samples import DAY_MS, Spread
from dashboards.phrases.times import When

DAYS, WEEKS, YEAR = 28, 26, 365


class Ruler(msgspec.Struct, frozen=True, kw_only=True):
    """Fractions 0 (today) to 1 (the drawing's right edge); `beyond`: it goes on past the edge.

    `label` is the likely day, `low` and `high` the ends of the range, `joined` both as one text.
    """

    ticks: tuple[float, ...]
    low_at: float
    mid_at: float
    high_at: float
    label: str
    short_label: str
    low: str
    high: str
    joined: str
    beyond: bool = False
    no_width: bool = False


def ruler(end: Spread, when: When, is_open: Callable[[date], bool], *, fixed: bool) -> Ruler:
    """The ruler for an end in the future.

    `is_open` says whether the place opens on a day; `fixed` is a date without a range (age).
    """
    midnight = when.midnight(when.today)
    days = [(at - midnight) / DAY_MS for at in (end.p05, end.p50, end.p95)]
    span, step = span_of(days[2])
    low, mid, high = (min(max(day / span, 0.0), 1.0) for day in days)
    first, likely, last = (when.day(at) for at in (end.p05, end.p50, end.p95))
    one_month = (first.year, first.month) == (last.year, last.month)
    return Ruler(
        ticks=_ticks(when, is_open, span, step),
        low_at=low,
        mid_at=mid,
        high_at=high,
        label=when.medium(likely),
        short_label=when.short(likely),
        low=str(first.day) if one_month else when.brief(first),
        high=str(last.day) if one_month else when.brief(last),
        joined=when.brief_range(first, last),
        beyond=days[1] > span,
        no_width=fixed,
    )


def span_of(last_day: float) -> tuple[int, int]:
    """Days the ruler spans, and days from tick to tick, for an end as late as `last_day`."""
    if last_day <= DAYS:
        return DAYS, 1
    for weeks in (8, 13, WEEKS):
        if last_day <= weeks * 7:
            return weeks * 7, 7
    return YEAR, 30


def _ticks(when: When, is_open: Callable[[date], bool], span: int, step: int) -> tuple[float, ...]:
    """Middles of the open days, or every week or month."""
    if step > 1:
        return tuple(day / span for day in range(0, span + 1, step))
    days = ((n, when.today + timedelta(days=n)) for n in range(span))
    return tuple((n + 0.5) / span for n, day in days if is_open(day))
