"""The spans of time that one point of a chart stands for, and figures brought to them.

Seconds over an hour, minutes over a day, hours over some weeks, local days over a year, else weeks:
never more than about 900 of them, so that a drawing stays small whatever it shows.
"""

from __future__ import annotations

from datetime import timedelta
from typing import Final

import msgspec
import numpy as np

from analytics.samples import DAY_MS, HOUR_MS, MINUTE_MS, Floats, Ints
from analytics.setup import LocalTime
from dashboards.history.span import Span
from dashboards.phrases.times import local_day, local_midnight
from firmware_bridge.store.series import Series

DRAW_BY_DRAW_MS: Final = 2 * DAY_MS + HOUR_MS
"""Up to this length every draw is shown by itself."""
BY_SECONDS_MS: Final = 3 * HOUR_MS
BY_HOURS_MS: Final = 21 * DAY_MS
BY_DAYS_MS: Final = 400 * DAY_MS


class Bins(msgspec.Struct, frozen=True, kw_only=True):
    """Bin i is [edges[i], edges[i + 1]); `unit` is second, minute, hour, day or week."""

    edges: Ints
    unit: str

    def __len__(self) -> int:
        return len(self.edges) - 1

    @property
    def middles(self) -> Ints:
        """The middle of each."""
        return (self.edges[:-1] + self.edges[1:]) // 2

    def place(self, at_ms: Ints) -> Ints:
        """The bin of each instant; -1 and len() are outside."""
        found: Ints = np.searchsorted(self.edges, at_ms, side="right") - 1
        return found


def bins_of(span: Span, local: LocalTime) -> Bins:
    """The bins of a span; the first and the last may be cut by its ends."""
    if span.length_ms <= BY_SECONDS_MS:
        return _even(span, max(10_000, span.length_ms // 720), "second")
    if span.length_ms <= DRAW_BY_DRAW_MS:
        return _even(span, 5 * MINUTE_MS, "minute")
    if span.length_ms <= BY_HOURS_MS:
        return _even(span, HOUR_MS, "hour")
    unit = "day" if span.length_ms <= BY_DAYS_MS else "week"
    days = {"day": 1, "week": 7}[unit] * max(1, span.length_ms // (7 * 900 * DAY_MS))
    day, last = local_day(local, span.from_ms), local_day(local, span.to_ms)
    inner = []
    while day <= last:
        inner.append(local_midnight(local, day))
        day += timedelta(days=days)
    return _between(span, np.array(inner, dtype=np.int64), unit)


def _even(span: Span, width_ms: int, unit: str) -> Bins:
    first = span.from_ms - span.from_ms % width_ms
    return _between(span, np.arange(first, span.to_ms + width_ms, width_ms), unit)


def _between(span: Span, inner: Ints, unit: str) -> Bins:
    kept = inner[(inner > span.from_ms) & (inner < span.to_ms)]
    edges = np.concatenate(([span.from_ms], kept, [span.to_ms])).astype(np.int64)
    return Bins(edges=edges, unit=unit)


class Trace(msgspec.Struct, frozen=True, kw_only=True):
    """A figure by bins: what the line goes through, and the lowest and highest it ever was. NaN
    where there is none."""

    mean: Floats
    low: Floats
    high: Floats


def no_trace(count: int) -> Trace:
    """A trace of which nothing is known."""
    none = np.full(count, np.nan)
    return Trace(mean=none, low=none, high=none)


def weighted(bins: Bins, at_ms: Ints, values: Floats, weights: Floats) -> Floats:
    """The weighted mean of each bin's values; values of NaN do not count."""
    place = bins.place(at_ms)
    there = np.isfinite(values) & (place >= 0) & (place < len(bins)) & (weights > 0)
    count = len(bins)
    total = np.bincount(place[there], weights[there] * values[there], minlength=count)
    weight = np.bincount(place[there], weights[there], minlength=count)
    mean: Floats = np.divide(total, weight, out=np.full(count, np.nan), where=weight > 0)
    return mean


def total(bins: Bins, at_ms: Ints, values: Floats) -> Floats:
    """The sum of each bin's values; NaN for a bin without any."""
    place = bins.place(at_ms)
    there = np.isfinite(values) & (place >= 0) & (place < len(bins))
    count = len(bins)
    summed = np.bincount(place[there], values[there], minlength=count)
    seen = np.bincount(place[there], minlength=count)
    return np.where(seen > 0, summed, np.nan)


def extreme(bins: Bins, at_ms: Ints, values: Floats, *, highest: bool) -> Floats:
    """The lowest or highest value of each bin."""
    place = bins.place(at_ms)
    there = np.isfinite(values) & (place >= 0) & (place < len(bins))
    found = np.full(len(bins), -np.inf if highest else np.inf)
    (np.maximum if highest else np.minimum).at(found, place[there], values[there])
    return np.where(np.isfinite(found), found, np.nan)


def trace_of(bins: Bins, series: Series) -> Trace:
    """A series of the store by these bins."""
    at_ms = np.maximum(series.at_ms, bins.edges[0])
    return Trace(
        mean=weighted(bins, at_ms, series.mean, series.count.astype(np.float64)),
        low=extreme(bins, at_ms, series.low, highest=False),
        high=extreme(bins, at_ms, series.high, highest=True),
    )
