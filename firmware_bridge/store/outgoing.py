"""Rows of every kind as sinks see them, in the order of their numbers."""

from __future__ import annotations

import math
import sqlite3
from collections.abc import Iterable
from typing import Any

import msgspec
import numpy as np

from analytics.samples import CHANNELS, DRAW_COLUMNS, NO_COUNT, Estimate, Event, Flag
from firmware_bridge.store import alarms, draws, estimates, events
from firmware_bridge.store.blocks import Block
from firmware_bridge.store.out_row import OutRow
from firmware_bridge.store.readings import unpacked

BLOCKS_HELD = 4
"""Unpacked blocks kept at hand, since a sink comes back for the next rows of the same one."""


class Outgoing:
    """Reads rows by number; keeps the blocks it unpacked last."""

    def __init__(self) -> None:
        self._held: dict[int, Block] = {}

    def rows(self, connection: sqlite3.Connection, after: int, limit: int) -> list[OutRow]:
        """Rows numbered above `after`, at most `limit`, none beyond a row that awaits its date."""
        after = self._nearest(connection, after)
        up_to = after + limit
        readings, stop = self._readings(connection, after, up_to)
        found = [
            *readings,
            *_draws(connection, after, up_to),
            *_estimates(connection, after, up_to),
            *_events(connection, after, up_to),
            *_alarms(connection, after, up_to),
        ]
        return sorted((row for row in found if row.seq < stop), key=lambda row: row.seq)

    def _nearest(self, connection: sqlite3.Connection, after: int) -> int:
        """`after`, or the number just before the next row there is, where there are none between.

        Rows age out, and numbers are passed over after a rescue; a block may have rows on both
        sides of such a gap.
        """
        there = [
            first
            for table in ("draws", "estimates", "events", "alarms")
            for (first,) in connection.execute(
                f"SELECT min(seq) FROM {table} WHERE seq > ?", (after,)
            )
            if first is not None
        ]
        for block_no, first in connection.execute(
            "SELECT block_no, min(first_seq) FROM blocks WHERE last_seq > ? AND first_seq > ? "
            "UNION ALL SELECT block_no, NULL FROM blocks WHERE last_seq > ? AND first_seq <= ?",
            (after, after, after, after),
        ).fetchall():
            if first is not None:
                there.append(first)
            elif block_no is not None:
                seq = self._block(connection, block_no).numbers.seq
                there.append(int(seq[seq > after].min()))
        return max(after, min(there) - 1) if there else after

    def _readings(
        self, connection: sqlite3.Connection, after: int, up_to: int
    ) -> tuple[list[OutRow], int]:
        """Readings numbered in (after, up_to], and the number of the first that awaits its date."""
        stop = up_to + 1
        rows: list[OutRow] = []
        for block_no, line_id, unsure in connection.execute(
            "SELECT block_no, line_id, unsure FROM blocks WHERE last_seq > ? AND first_seq <= ?",
            (after, up_to),
        ).fetchall():
            block = self._block(connection, block_no)
            seq = block.numbers.seq
            places = np.flatnonzero((seq > after) & (seq <= up_to))
            chosen = block.taken(places)
            if unsure:
                stop = min(stop, _first_undated(connection, chosen, stop))
            rows.extend(_reading_rows(line_id, chosen))
        return rows, stop

    def _block(self, connection: sqlite3.Connection, block_no: int) -> Block:
        if block_no not in self._held:
            (meters, numbers) = connection.execute(
                "SELECT meters, numbers FROM blocks WHERE block_no = ?", (block_no,)
            ).fetchone()
            while len(self._held) >= BLOCKS_HELD:
                del self._held[next(iter(self._held))]
            self._held[block_no] = unpacked(meters, numbers)
        return self._held[block_no]


def _first_undated(connection: sqlite3.Connection, block: Block, stop: int) -> int:
    undated = [
        boot_no
        for (boot_no,) in connection.execute("SELECT boot_no FROM boots WHERE offset_ms IS NULL")
    ]
    waits = ((block.rows.flags & Flag.CLOCK_UNSURE) != 0) & np.isin(block.numbers.boot_no, undated)
    return min(int(block.numbers.seq[waits].min()), stop) if waits.any() else stop


def _reading_rows(line_id: str, block: Block) -> Iterable[OutRow]:
    rows = block.rows
    columns = [getattr(rows, name).tolist() for name in CHANNELS]
    entries = (block.numbers.seq.tolist(), rows.at_ms.tolist(), rows.pulses.tolist())
    for seq, at_ms, pulses, flags, *values in zip(
        *entries, rows.flags.tolist(), *columns, strict=True
    ):
        numbers = {
            name: value
            for name, value in zip(CHANNELS, values, strict=True)
            if math.isfinite(value)
        }
        if pulses != NO_COUNT:
            numbers["pulses"] = pulses
        if flags:
            numbers["flags"] = flags
        yield OutRow(seq=seq, at_ms=at_ms, kind="reading", line_id=line_id, numbers=numbers)


def _draws(connection: sqlite3.Connection, after: int, up_to: int) -> Iterable[OutRow]:
    for seq, line_id, cartridge_id, *figures in connection.execute(
        f"SELECT seq, line_id, cartridge_id, {draws.COLUMNS} FROM draws WHERE seq > ? AND seq <= ?",
        (after, up_to),
    ):
        named = dict(zip(DRAW_COLUMNS, figures, strict=True))
        numbers = {name: value for name, value in named.items() if value is not None}
        at_ms = numbers.pop("start_ms")
        yield OutRow(
            seq=seq,
            at_ms=at_ms,
            kind="draw",
            line_id=line_id,
            cartridge_id=cartridge_id,
            numbers=numbers,
        )


def _estimates(connection: sqlite3.Connection, after: int, up_to: int) -> Iterable[OutRow]:
    for seq, line_id, body, revision in connection.execute(
        "SELECT seq, line_id, body, (SELECT count(*) FROM estimates AS older "
        "WHERE older.line_id = e.line_id AND older.at_ms = e.at_ms AND older.seq < e.seq) "
        "FROM estimates AS e WHERE seq > ? AND seq <= ?",
        (after, up_to),
    ):
        estimate = estimates.decoded(body)
        yield OutRow(
            seq=seq,
            at_ms=estimate.at_ms,
            kind="estimate",
            line_id=line_id,
            cartridge_id=estimate.cartridge_id,
            revision=revision,
            numbers=estimate_numbers(estimate),
            words=_words(estimate, skip=("cartridge_id",)),
        )


def estimate_numbers(estimate: Estimate) -> dict[str, float]:
    """The estimate's finite figures: spreads as `<name>_p50` and so on, yes and no as 1 and 0."""
    numbers: dict[str, float] = {}
    for name in estimate.__struct_fields__:
        value = getattr(estimate, name)
        if name in ("at_ms", "used_rows"):
            continue
        if isinstance(value, msgspec.Struct):
            for part in value.__struct_fields__:
                _put(numbers, f"{name}_{part}", getattr(value, part))
        else:
            _put(numbers, name, value)
    return numbers


def _events(connection: sqlite3.Connection, after: int, up_to: int) -> Iterable[OutRow]:
    for seq, body, digest in connection.execute(
        "SELECT seq, body, digest FROM events WHERE seq > ? AND seq <= ?", (after, up_to)
    ):
        yield event_row(seq, events.decoded(body), digest or "")


def event_row(seq: int, event: Event, digest: str = "") -> OutRow:
    """An event as a row: what is a number under numbers, the rest under words with its kind.

    Its digest goes with it: whoever has received it can tell whether the site's logbook was
    changed afterwards.
    """
    numbers: dict[str, float] = {}
    for name in event.__struct_fields__:
        if name != "at_ms":
            _put(numbers, name, getattr(event, name))
    return OutRow(
        seq=seq,
        at_ms=event.at_ms,
        kind="event",
        line_id=event.line_id,
        cartridge_id=getattr(event, "cartridge_id", ""),
        numbers=numbers,
        words={
            "event": events.kind_of(event),
            **_words(event, ("line_id", "cartridge_id")),
            **({"digest": digest} if digest else {}),
        },
    )


def _alarms(connection: sqlite3.Connection, after: int, up_to: int) -> Iterable[OutRow]:
    for seq, line_id, *columns in connection.execute(
        f"SELECT seq, line_id, {alarms.COLUMNS} FROM alarms WHERE seq > ? AND seq <= ?",
        (after, up_to),
    ):
        change = alarms.change_of(*columns)
        numbers: dict[str, float] = {}
        for name, value in (change.numbers | {"until_ms": change.until_ms}).items():
            _put(numbers, name, value)
        yield OutRow(
            seq=seq,
            at_ms=change.at_ms,
            kind="alarm",
            line_id=line_id,
            numbers=numbers,
            words=_words(change, ()),
        )


def _put(numbers: dict[str, float], name: str, value: Any) -> None:
    if isinstance(value, int | float) and math.isfinite(value):
        numbers[name] = value if type(value) is not bool else int(value)


def _words(thing: msgspec.Struct, skip: tuple[str, ...]) -> dict[str, str]:
    named = {name: getattr(thing, name) for name in thing.__struct_fields__ if name not in skip}
    return {name: str(value) for name, value in named.items() if isinstance(value, str) and value}
