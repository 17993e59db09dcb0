"""A channel over any span of time as a few hundred spans, from the coarsest roll-up that is right.

Spans under a minute come from the rows, under an hour from the minutes, else from the hours; the
spans begin at whole minutes or hours then, so that no roll-up is split. Where the rows were thinned
a span is a minute at least.
"""

from __future__ import annotations

import sqlite3

import msgspec
import numpy as np

from analytics.samples import HOUR_MS, MINUTE_MS, Floats, Ints
from firmware_bridge.store.blocks import unpack_rows
from firmware_bridge.store.rollups import (
    SERIES,
    Rollup,
    again,
    hourly,
    merged,
    minutely,
    roll_up,
    values_of,
)
from firmware_bridge.store.rows import joined, rows_from_ms, rows_of


class Series(msgspec.Struct, frozen=True, kw_only=True):
    """A channel by spans of `width_ms`: entry i covers the span that begins at `at_ms[i]`.

    Spans without a value are left out. `count` says how many values a span holds.
    """

    width_ms: int
    at_ms: Ints
    low: Floats
    mean: Floats
    high: Floats
    count: Ints

    def __len__(self) -> int:
        return len(self.at_ms)


def series_of(
    connection: sqlite3.Connection,
    line_id: str,
    channel: str,
    from_ms: int,
    to_ms: int,
    points: int,
) -> Series:
    """A channel in [from_ms, to_ms) in at most `points` spans.

    Raises ValueError for an unknown channel, no points or an empty span.
    """
    _check(channel, from_ms, to_ms, points)
    width_ms = _up_to(to_ms - from_ms, points)
    if width_ms < MINUTE_MS and not thinned(connection, line_id, from_ms):
        rows = rows_of(connection, line_id, from_ms, to_ms)
        rollup = roll_up(rows.at_ms, values_of(rows, channel), width_ms, from_ms)
    else:
        unit_ms = MINUTE_MS if width_ms < HOUR_MS else HOUR_MS
        from_ms -= from_ms % unit_ms
        width_ms = max(_up_to(to_ms - from_ms, points * unit_ms), 1) * unit_ms
        units = rolled_up(connection, line_id, channel, unit_ms, from_ms, to_ms)
        rollup = again(units, width_ms, from_ms)
    return Series(
        width_ms=width_ms,
        at_ms=rollup.at_ms,
        low=rollup.low,
        mean=rollup.total / rollup.count,
        high=rollup.high,
        count=rollup.count,
    )


def pulses_by_hour(
    connection: sqlite3.Connection, line_id: str, from_ms: int, to_ms: int
) -> tuple[Ints, Ints]:
    """Pulses of every hour that begins in [from_ms, to_ms); hours without a count are left out."""
    first_ms = _up_to(from_ms, HOUR_MS) * HOUR_MS
    hours = again(rolled_up(connection, line_id, "pulses", HOUR_MS, first_ms, to_ms), HOUR_MS)
    return hours.at_ms, np.rint(hours.total).astype(np.int64)


def rolled_up(
    connection: sqlite3.Connection,
    line_id: str,
    channel: str,
    unit_ms: int,
    from_ms: int,
    to_ms: int,
) -> Rollup:
    """Minutes or hours that begin in [from_ms, to_ms), packed ones and open ones together."""
    first, last = from_ms // HOUR_MS, (to_ms - 1) // HOUR_MS
    packed = hourly if unit_ms == HOUR_MS else minutely
    still_open = connection.execute(
        "SELECT meters FROM blocks WHERE line_id = ? AND hour >= ? AND hour <= ? AND level < 2 "
        "ORDER BY hour, level DESC, block_no",
        (line_id, first, last),
    )
    rows = joined([unpack_rows(meters) for (meters,) in still_open])
    both = merged(
        [
            packed(connection, line_id, channel, first, last + 1),
            roll_up(rows.at_ms, values_of(rows, channel), unit_ms),
        ]
    )
    start, stop = np.searchsorted(both.at_ms, (from_ms, to_ms))
    return both.cut(int(start), int(stop))


def thinned(connection: sqlite3.Connection, line_id: str, at_ms: int) -> bool:
    """Whether the rows of the line at an instant have become values by the minute."""
    return at_ms < rows_from_ms(connection, line_id)


def _up_to(whole: int, part: int) -> int:
    """How many parts cover the whole."""
    return -(-whole // part)


def _check(channel: str, from_ms: int, to_ms: int, points: int) -> None:
    if channel not in SERIES:
        raise ValueError(f"no channel {channel!r}; there are {', '.join(SERIES)}")
    if points < 1 or to_ms <= from_ms:
        raise ValueError(f"{points} points of [{from_ms}, {to_ms}) cannot be given")
