"""Lowest, highest, total and count of every channel, a minute and an hour at a time.

A packed hour has roll-ups; what is not packed yet is rolled up when it is asked for. So a series is
always the sum of both, and a spike of one row is in it at every width.
"""

from __future__ import annotations

import sqlite3

import msgspec
import numpy as np

from analytics.chemistry.temperature import ec25_natural
from analytics.errors import StoreDamaged
from analytics.samples import CHANNELS, HOUR_MS, MINUTE_MS, NO_COUNT, Floats, Ints, Rows
from firmware_bridge.store.blocks import SCALES
from firmware_bridge.store.packing import (
    FloatColumn,
    WholeColumn,
    pack_floats,
    pack_whole,
    unpack_floats,
    unpack_whole,
)

AT_25 = {
    "outlet_ec25_us_cm": ("outlet_us_cm", "outlet_temp_c"),
    "inlet_ec25_us_cm": ("inlet_us_cm", "inlet_temp_c"),
}
"""Conductivity referred to 25 C row by row, so that its lowest and highest are true ones."""
SERIES = (*CHANNELS, *AT_25, "pulses")
"""What can be asked for as a series."""
AT_25_SCALE = 100.0  # 0.01 uS/cm


class Rollup(msgspec.Struct, frozen=True, kw_only=True):
    """Values of one channel by spans of time: entry i covers the span that begins at `at_ms[i]`.

    Only spans with a value are there. The mean is `total` / `count`.
    """

    at_ms: Ints
    low: Floats
    high: Floats
    total: Floats
    count: Ints

    def __len__(self) -> int:
        return len(self.at_ms)

    def cut(self, start: int, stop: int) -> Rollup:
        """Entries `start` to `stop` (positions), sharing memory."""
        return Rollup(**{name: getattr(self, name)[start:stop] for name in ROLLUP_COLUMNS})


ROLLUP_COLUMNS = ("at_ms", "low", "high", "total", "count")


class _Packed(msgspec.Struct, frozen=True, array_like=True):
    length: int
    at_ms: WholeColumn
    count: WholeColumn
    low: FloatColumn
    high: FloatColumn
    total: FloatColumn


_read = msgspec.msgpack.Decoder(_Packed)
_write = msgspec.msgpack.Encoder()


def values_of(rows: Rows, channel: str) -> Floats:
    """A channel's values as floats, NaN where there is no reading."""
    if channel == "pulses":
        return np.where(rows.pulses == NO_COUNT, np.nan, rows.pulses)
    if channel in AT_25:
        read, temp_c = (getattr(rows, name) for name in AT_25[channel])
        return np.rint(ec25_natural(read, temp_c) * AT_25_SCALE) / AT_25_SCALE
    column: Floats = getattr(rows, channel)
    return column


def roll_up(at_ms: Ints, values: Floats, width_ms: int, from_ms: int = 0) -> Rollup:
    """Roll up values in order of time by spans of `width_ms` that are counted from `from_ms`."""
    there = np.isfinite(values)
    kept, values = at_ms[there], values[there]
    return again(
        Rollup(
            at_ms=kept,
            low=values,
            high=values,
            total=values,
            count=np.ones(len(kept), dtype=np.int64),
        ),
        width_ms,
        from_ms,
    )


def again(rollup: Rollup, width_ms: int, from_ms: int = 0) -> Rollup:
    """Roll a roll-up in order of time up to wider spans."""
    if not len(rollup):
        return rollup
    span = (rollup.at_ms - from_ms) // width_ms
    first = np.concatenate(([0], np.flatnonzero(np.diff(span)) + 1))
    return Rollup(
        at_ms=span[first] * width_ms + from_ms,
        low=np.minimum.reduceat(rollup.low, first),
        high=np.maximum.reduceat(rollup.high, first),
        total=np.add.reduceat(rollup.total, first),
        count=np.add.reduceat(rollup.count, first),
    )


def merged(rollups: list[Rollup]) -> Rollup:
    """All in order of time; spans that begin together stand beside each other."""
    parts = [rollup for rollup in rollups if len(rollup)]
    if len(parts) == 1:
        return parts[0]
    if not parts:
        return roll_up(np.empty(0, dtype=np.int64), np.empty(0), 1)
    joined = {
        name: np.concatenate([getattr(part, name) for part in parts]) for name in ROLLUP_COLUMNS
    }
    order = np.argsort(joined["at_ms"], kind="stable")
    return Rollup(**{name: column[order] for name, column in joined.items()})


def keep_rollups(
    connection: sqlite3.Connection, line_id: str, hour: int, rows: Rows, *, add: bool = False
) -> None:
    """Write the roll-ups of a packed hour, in the place of those it had or added to them."""
    before = {
        channel: [held(connection, line_id, channel, hour, hour + 1) for held in (minutely, hourly)]
        for channel in (SERIES if add else ())
    }
    drop_rollups(connection, line_id, hour)
    for channel in SERIES:
        minutes = roll_up(rows.at_ms, values_of(rows, channel), MINUTE_MS)
        whole = again(minutes, HOUR_MS)
        if channel in before:
            minutes = again(merged([before[channel][0], minutes]), MINUTE_MS)
            whole = again(merged([before[channel][1], whole]), HOUR_MS)
        if not len(minutes):
            continue
        figures = (float(whole.low[0]), float(whole.high[0]), float(whole.total[0]))
        connection.execute(
            "INSERT INTO hourly (line_id, channel, hour, low, high, total, count) "
            "VALUES (?, ?, ?, ?, ?, ?, ?)",
            (line_id, channel, hour, *figures, int(whole.count[0])),
        )
        connection.execute(
            "INSERT INTO minutely (line_id, channel, hour, minutes) VALUES (?, ?, ?, ?)",
            (line_id, channel, hour, _pack(minutes, _scale(channel))),
        )


def _scale(channel: str) -> float:
    return AT_25_SCALE if channel in AT_25 else SCALES.get(channel, 1.0)


def drop_rollups(connection: sqlite3.Connection, line_id: str, hour: int) -> None:
    """Take the roll-ups of an hour away."""
    for table in ("hourly", "minutely"):
        connection.executemany(
            f"DELETE FROM {table} WHERE line_id = ? AND channel = ? AND hour = ?",
            [(line_id, channel, hour) for channel in SERIES],
        )


def drop_minutes(connection: sqlite3.Connection, line_id: str, hour: int) -> int:
    """Take an hour's minutes away, its values by the hour stay; how many minutes there were."""
    dropped = 0
    for (body,) in connection.execute(
        "SELECT minutes FROM minutely WHERE line_id = ? AND hour = ?", (line_id, hour)
    ).fetchall():
        dropped = max(dropped, len(minutes_of(body)))
    connection.executemany(
        "DELETE FROM minutely WHERE line_id = ? AND channel = ? AND hour = ?",
        [(line_id, channel, hour) for channel in SERIES],
    )
    return dropped


def hourly(
    connection: sqlite3.Connection, line_id: str, channel: str, from_hour: int, to_hour: int
) -> Rollup:
    """The roll-ups of the packed hours `from_hour` to `to_hour` (not included), by the hour."""
    found = connection.execute(
        "SELECT hour, low, high, total, count FROM hourly "
        "WHERE line_id = ? AND channel = ? AND hour >= ? AND hour < ? ORDER BY hour",
        (line_id, channel, from_hour, to_hour),
    ).fetchall()
    table = np.array(found, dtype=np.float64).reshape(-1, 5)
    return Rollup(
        at_ms=table[:, 0].astype(np.int64) * HOUR_MS,
        low=table[:, 1],
        high=table[:, 2],
        total=table[:, 3],
        count=table[:, 4].astype(np.int64),
    )


def minutely(
    connection: sqlite3.Connection, line_id: str, channel: str, from_hour: int, to_hour: int
) -> Rollup:
    """The roll-ups of the packed hours `from_hour` to `to_hour` (not included), by the minute."""
    found = connection.execute(
        "SELECT minutes FROM minutely "
        "WHERE line_id = ? AND channel = ? AND hour >= ? AND hour < ? ORDER BY hour",
        (line_id, channel, from_hour, to_hour),
    )
    return merged([minutes_of(body) for (body,) in found])


def _pack(minutes: Rollup, scale: float) -> bytes:
    """Totals are brought to the channel's resolution: sums of values on it lose nothing."""
    total = np.rint(minutes.total * scale) / scale
    return _write.encode(
        _Packed(
            len(minutes),
            pack_whole(minutes.at_ms),
            pack_whole(minutes.count),
            pack_floats(minutes.low, scale),
            pack_floats(minutes.high, scale),
            pack_floats(total, scale),
        )
    )


def minutes_of(body: bytes) -> Rollup:
    """Minutes out of their packed form; raises StoreDamaged for anything else."""
    try:
        packed = _read.decode(body)
        return Rollup(
            at_ms=unpack_whole(packed.at_ms, packed.length),
            count=unpack_whole(packed.count, packed.length),
            low=unpack_floats(packed.low, packed.length),
            high=unpack_floats(packed.high, packed.length),
            total=unpack_floats(packed.total, packed.length),
        )
    except (msgspec.MsgspecError, ValueError) as exc:
        raise StoreDamaged(f"values by the minute cannot be read: {exc}", "It is rescued.") from exc
