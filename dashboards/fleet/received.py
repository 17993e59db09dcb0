"""A site's history as the fleet has received it, for the pages and papers a site itself has."""

from __future__ import annotations

from functools import cached_property
from typing import Any

import msgspec
import numpy as np

from analytics.chemistry.temperature import ec25_natural
from analytics.samples import (
    CHANNELS,
    DAY_MS,
    HOUR_MS,
    NO_COUNT,
    AnyEvent,
    Draws,
    Estimate,
    Floats,
    Ints,
    Withdrawn,
)
from dashboards.fleet.rebuilt import change_of, draws_of, estimate_of, event_of, holding
from firmware_bridge.fleet.records import received_rows
from firmware_bridge.fleet.records.sight import Connection
from firmware_bridge.forward.payloads import BatchRow
from firmware_bridge.store.alarms import KnownChange
from firmware_bridge.store.chain import Entry
from firmware_bridge.store.draws import DrawSums
from firmware_bridge.store.events import FAR_MS
from firmware_bridge.store.rollups import AT_25, roll_up
from firmware_bridge.store.series import Series

ROW_BY_ROW_MS = 2 * DAY_MS + HOUR_MS
"""Up to this length readings are opened; beyond it their extremes are those of the draws, and when
word came is told by the parcels they came in."""


class ReceivedReader:
    """Answers as `SiteReader`; for one request, so that nothing is read twice."""

    def __init__(self, connection: Connection, site_no: int) -> None:
        self._connection = connection
        self._site_no = site_no
        self._rows: dict[tuple[Any, ...], list[BatchRow]] = {}

    def span(self, line_id: str) -> tuple[int, int] | None:
        """The instants of the line's first and newest row."""
        return received_rows.reach_of(self._connection, self._site_no, line_id)

    def events(
        self, line_id: str | None = None, from_ms: int = -FAR_MS, to_ms: int = FAR_MS
    ) -> list[AnyEvent]:
        """Events that hold, of the line and of the whole site, by date."""
        return [
            event
            for event in self._holding
            if from_ms <= event.at_ms < to_ms
            and (line_id is None or event.line_id in ("", line_id))
        ]

    def logbook(self, newest: int | None = None) -> list[Entry]:
        """Entries in the order they were written; the body of one whose name was erased is gone."""
        entries = []
        for told, event in self._told:
            body = "" if told.who is None else msgspec.json.encode(event).decode()
            digest = told.row.words.get("digest", "")
            entries.append(Entry(seq=told.seq, event=event, body=body, digest=digest))
        return entries if newest is None else entries[-newest:]

    def draws(self, line_id: str, from_ms: int, to_ms: int) -> Draws:
        """Draws that begin in [from_ms, to_ms)."""
        return draws_of(self._current(line_id, "draw", from_ms, to_ms))

    def draw_sums(self, line_id: str, from_ms: int, to_ms: int, width_ms: int) -> DrawSums:
        """Draws that begin in [from_ms, to_ms), by spans counted from 1970."""
        return sums_of(self.draws(line_id, from_ms, to_ms), width_ms)

    def pulses_by_hour(self, line_id: str, from_ms: int, to_ms: int) -> tuple[Ints, Ints]:
        """Pulses of every hour of which word came: (the hours' beginnings, pulses)."""
        heard = self._heard(line_id, from_ms, to_ms)
        hours = {at - at % HOUR_MS: 0 for first, last in heard
                 for at in (*range(first, last, HOUR_MS), last)}  # fmt: skip
        draws = self.draws(line_id, from_ms, to_ms)
        starts = draws.start_ms - draws.start_ms % HOUR_MS
        for at, pulses in zip(starts.tolist(), draws.pulses.tolist(), strict=True):
            hours[at] = hours.get(at, 0) + pulses
        kept = sorted(at for at in hours if from_ms <= at < to_ms)
        return np.array(kept, dtype=np.int64), np.array([hours[at] for at in kept], dtype=np.int64)

    def series(self, line_id: str, channel: str, from_ms: int, to_ms: int, points: int) -> Series:
        """A channel in spans; over a long time only when word came, without values."""
        width_ms = max(1, -(-(to_ms - from_ms) // points))
        if to_ms - from_ms > ROW_BY_ROW_MS:
            return _presence(self._heard(line_id, from_ms, to_ms), width_ms, from_ms, to_ms)
        rows = self._received(line_id, "reading", from_ms, to_ms)
        at_ms, values = _channel(rows, channel)
        rolled = roll_up(at_ms, values, width_ms, from_ms)
        return Series(
            width_ms=width_ms,
            at_ms=rolled.at_ms,
            low=rolled.low,
            mean=rolled.total / rolled.count,
            high=rolled.high,
            count=rolled.count,
        )

    def latest_estimate(self, line_id: str) -> Estimate | None:
        """The newest estimate of the last weeks that word came of."""
        reach = self.span(line_id)
        if reach is None:
            return None
        for days in (2, 40, 4000):
            found = self.estimates(line_id, reach[1] - days * DAY_MS, reach[1] + DAY_MS)
            if found:
                return found[-1]
        return None

    def estimates(self, line_id: str, from_ms: int, to_ms: int) -> list[Estimate]:
        """Estimates for instants in [from_ms, to_ms)."""
        rows = self._current(line_id, "estimate", from_ms, to_ms)
        return [found for found in map(estimate_of, rows) if found is not None]

    def estimates_sampled(
        self, line_id: str, from_ms: int, to_ms: int, width_ms: int
    ) -> list[Estimate]:
        """The last of every span of `width_ms`."""
        rows = self._current(line_id, "estimate", from_ms, to_ms)
        last = {row.at_ms // width_ms: row for row in rows}
        return [found for found in map(estimate_of, last.values()) if found is not None]

    def estimates_as_stored(self, line_id: str, from_ms: int, to_ms: int) -> list[Estimate]:
        """Every one, revised ones too, in the order they were made."""
        rows = self._received(line_id, "estimate", from_ms, to_ms)
        return [found for found in map(estimate_of, rows) if found is not None]

    def alarm_changes(
        self, line_id: str | None = None, from_ms: int = -FAR_MS, to_ms: int = FAR_MS
    ) -> list[KnownChange]:
        """Changes of alarms in the order they were stored."""
        rows = received_rows.rows_of(
            self._connection, self._site_no, line_id, "alarm", from_ms, to_ms
        )
        known = ((line, row.seq, change_of(row)) for _, line, row in rows)
        return [
            KnownChange(seq=seq, line_id=line, change=change)
            for line, seq, change in known
            if change is not None
        ]

    @cached_property
    def _told(self) -> list[tuple[received_rows.Told, AnyEvent]]:
        found = received_rows.events_of(self._connection, self._site_no)
        both = ((told, event_of(told.row, told.line, told.who)) for told in found)
        return [(told, event) for told, event in both if event is not None]

    @cached_property
    def _holding(self) -> list[AnyEvent]:
        events = [event for _, event in self._told]
        gone = {event.withdraws for event in events if isinstance(event, Withdrawn)}
        held = (event for event in events if event.event_id not in gone or not event.event_id)
        return sorted(held, key=lambda event: event.at_ms)

    def _received(self, line_id: str, kind: str, from_ms: int, to_ms: int) -> list[BatchRow]:
        """Rows as they came."""
        asked = (line_id, kind, from_ms, to_ms)
        if asked not in self._rows:
            rows = received_rows.rows_of(
                self._connection, self._site_no, line_id, kind, from_ms, to_ms
            )
            self._rows[asked] = [row for _, _, row in rows]
        return self._rows[asked]

    def _current(self, line_id: str, kind: str, from_ms: int, to_ms: int) -> list[BatchRow]:
        """Rows that hold, in order of time."""
        return holding([(0, line_id, row) for row in self._received(line_id, kind, from_ms, to_ms)])

    def _heard(self, line_id: str, from_ms: int, to_ms: int) -> list[tuple[int, int]]:
        found = received_rows.spans_of(
            self._connection, self._site_no, line_id, "reading", from_ms, to_ms
        )
        return [(max(first, from_ms), min(last, to_ms - 1)) for first, last in found]


def sums_of(draws: Draws, width_ms: int) -> DrawSums:
    """Draws by spans of `width_ms`, as the site's own store has them (`store.draws`)."""
    if not len(draws):
        none: dict[str, Any] = {name: np.empty(0) for name in DrawSums.__struct_fields__}
        whole = {name: np.empty(0, dtype=np.int64) for name in ("at_ms", "pulses")}
        return DrawSums(**(none | whole))
    order = np.argsort(draws.start_ms, kind="stable")
    span = draws.start_ms[order] // width_ms
    first = np.concatenate(([0], np.flatnonzero(np.diff(span)) + 1))
    pulses = draws.pulses[order].astype(np.float64)
    length_ms = np.maximum(draws.end_ms - draws.start_ms, 1)[order].astype(np.float64)
    temp = draws.outlet_temp_c[order]

    def mean(values: Floats) -> Floats:
        known = np.isfinite(values)
        weight = np.add.reduceat(np.where(known, pulses, 0.0), first)
        total = np.add.reduceat(np.where(known, values * pulses, 0.0), first)
        found: Floats = np.divide(total, weight, out=np.full(len(first), np.nan), where=weight > 0)
        return found

    total_ms = np.maximum(np.add.reduceat(length_ms, first), 1.0)
    return DrawSums(
        at_ms=span[first] * width_ms,
        pulses=np.add.reduceat(draws.pulses[order], first),
        outlet_ec25_us_cm=mean(draws.outlet_ec25_us_cm[order]),
        inlet_ec25_us_cm=mean(draws.inlet_ec25_us_cm[order]),
        outlet_temp_c=mean(temp),
        coldest_c=np.fmin.reduceat(temp, first),
        warmest_c=np.fmax.reduceat(temp, first),
        mean_hz=1000.0 * np.add.reduceat(pulses, first) / total_ms,
        fastest_hz=np.maximum.reduceat(1000.0 * pulses / length_ms, first),
    )


def _channel(rows: list[BatchRow], channel: str) -> tuple[Ints, Floats]:
    """A channel's values in order of time; conductivity referred to 25 C where that is asked."""
    ordered = sorted(rows, key=lambda row: row.at_ms)
    at_ms = np.array([row.at_ms for row in ordered], dtype=np.int64)

    def column(name: str) -> Floats:
        return np.array([row.numbers.get(name, np.nan) for row in ordered], dtype=np.float64)

    if channel in AT_25:
        read, temp_c = (column(name) for name in AT_25[channel])
        return at_ms, np.asarray(ec25_natural(read, temp_c))
    if channel not in (*CHANNELS, "pulses"):
        raise ValueError(f"no channel {channel!r}")
    values = column(channel)
    return at_ms, np.where(values == NO_COUNT, np.nan, values)


def _presence(heard: list[tuple[int, int]], width_ms: int, from_ms: int, to_ms: int) -> Series:
    """Spans of which word came, without values."""
    starts = range(from_ms, to_ms, width_ms)
    there = np.zeros(len(starts), dtype=bool)
    for first, last in heard:
        there[(first - from_ms) // width_ms : (last - from_ms) // width_ms + 1] = True
    at_ms = np.array(starts, dtype=np.int64)[there]
    nothing = np.full(len(at_ms), np.nan)
    return Series(
        width_ms=width_ms,
        at_ms=at_ms,
        low=nothing,
        mean=nothing,
        high=nothing,
        count=np.ones(len(at_ms), dtype=np.int64),
    )
