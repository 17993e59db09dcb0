"""Rows with a fault in them, made by hand: a shop that is open from 7 to 18 by its own clock."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from analytics.chemistry.temperature import f25_where_defined
from analytics.draws import Gate, Run, find_draws, settled_ms
from analytics.pipeline import Block, Watch, watch_over
from analytics.samples import (
    DAY_MS,
    HOUR_MS,
    MINUTE_MS,
    AlarmChange,
    AnyEvent,
    Floats,
    Ints,
    Rows,
)
from analytics.setup import LineSetup, LocalTime, Opening
from tests.makers import MONDAY_MS, hydrogen_line

UTC = LocalTime()
SEVEN_TO_SIX: Opening = ((7 * 60, 18 * 60),) * 7
Change = Callable[[dict[str, Ints | Floats]], None]


def shop(**changes: object) -> LineSetup:
    """The line of a shop with hours."""
    return hydrogen_line(opening=SEVEN_TO_SIX, **changes)


def minutes(days: float, change: Change | None = None) -> Rows:
    """A row a minute; a quarter litre every ten minutes of opening. `change` spoils the columns."""
    at = MONDAY_MS + np.arange(1, int(days * 1440) + 1, dtype=np.int64) * MINUTE_MS
    minute = (at - MONDAY_MS) % DAY_MS // MINUTE_MS
    drawn = (minute >= 7 * 60) & (minute < 18 * 60) & (minute % 10 == 0)
    count = len(at)
    ripple = 0.5 * np.sin(np.arange(count))
    columns: dict[str, Ints | Floats] = {
        "at_ms": at,
        "outlet_us_cm": 330.0 + ripple,
        "outlet_temp_c": np.full(count, 16.0),
        "inlet_us_cm": 560.0 + ripple,
        "inlet_temp_c": np.full(count, 16.0),
        "pulses": np.where(drawn, 250, 0).astype(np.int64),
        "flags": np.zeros(count, dtype=np.int64),
    }
    if change is not None:
        change(columns)
    return Rows(**columns)  # type: ignore[arg-type]


def between(columns: dict[str, Ints | Floats], from_h: float, until_h: float) -> slice:
    """Places of the rows in (from, until] hours after the beginning."""
    at = columns["at_ms"]
    first = int(np.searchsorted(at, MONDAY_MS + from_h * HOUR_MS, side="right"))
    last = int(np.searchsorted(at, MONDAY_MS + until_h * HOUR_MS, side="right"))
    return slice(first, last)


def hour(hours: float) -> int:
    """The instant so many hours after the beginning."""
    return MONDAY_MS + round(hours * HOUR_MS)


def journal(
    line: LineSetup,
    rows: Rows,
    events: tuple[AnyEvent, ...] = (),
    *,
    cuts: tuple[int, ...] = (),
    until_ms: int | None = None,
) -> tuple[Watch, list[AlarmChange]]:
    """The changes of alarms over rows and events, cut at these instants; nothing is estimated."""
    end = int(rows.at_ms[-1]) if until_ms is None else until_ms
    run, watch, changes, begun = Run(), Watch(), list[AlarmChange](), 0
    for edge in sorted({*(c for c in cuts if c < end), end}):
        block = block_of(rows, events, begun, edge)
        gate = Gate.at(line.pulses_per_l)
        run, draws = find_draws(run, block.rows, edge, gate, f25_where_defined)
        until = settled_ms(run, edge)
        watch, made = watch_over(line, watch, block, (), local=UTC, draws=draws, until_ms=until)
        begun = edge
        changes += made
    return watch, changes


def block_of(rows: Rows, events: tuple[AnyEvent, ...], begun: int, edge: int) -> Block:
    """What came in (begun, edge]."""
    first, last = np.searchsorted(rows.at_ms, (begun, edge), side="right")
    told = tuple(e for e in events if begun < told_at(e) <= edge)
    return Block(end_ms=edge, rows=rows.cut(int(first), int(last)), events=told)


def told_at(event: AnyEvent) -> int:
    """When an event reaches the site."""
    return event.known_at_ms or event.at_ms


def said(changes: list[AlarmChange], alarm: str) -> list[tuple[str, float]]:
    """What happened to an alarm, and how many hours after the beginning."""
    return [
        (c.change, round((c.at_ms - MONDAY_MS) / HOUR_MS, 3)) for c in changes if c.alarm == alarm
    ]


def names(changes: list[AlarmChange]) -> set[str]:
    """Alarms that were raised."""
    return {c.alarm for c in changes if c.change == "raised"}
