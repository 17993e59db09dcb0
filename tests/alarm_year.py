"""The alarms of simulated cartridges, to be measured as an operator would meet them.

A quick life is a cartridge with what goes wrong in the field (leaks, source switches, a knocked
bypass, dead and drifting probes); most are used beyond their end. Its draws come from the life, a
row a minute stands for meters that speak, and a barista acknowledges after an hour.
"""

from __future__ import annotations

import msgspec
import numpy as np

from analytics.alarm_figures import AlarmFigures, figures
from analytics.pipeline import Block, Watch, watch_over
from analytics.samples import (
    MINUTE_MS,
    Acknowledged,
    AlarmChange,
    AnyEvent,
    Draws,
    Floats,
    Rows,
)
from analytics.setup import LineSetup
from analytics.weigh import start_weighing, weigh
from tests.quick_lives.life import QuickLife, quick_life

ANSWER_MS = 3_600_000
"""The operator acknowledges what he sees after an hour."""


class Watched(msgspec.Struct, frozen=True, kw_only=True):
    """The journal of one life, and its length."""

    changes: tuple[AlarmChange, ...]
    begin_ms: int
    end_ms: int

    @property
    def days(self) -> float:
        """Length in days."""
        return (self.end_ms - self.begin_ms) / 86_400_000

    @property
    def figures(self) -> AlarmFigures:
        """The alarm system measured over this life."""
        return figures(self.changes, self.begin_ms, self.end_ms)


def watched(number: int, seed: int = 5, scenario: str | None = None) -> Watched:
    """The alarms of one quick life, acknowledged an hour after each is raised."""
    life = quick_life(number, seed, scenario)
    line, setup = with_hours(life), life.setup
    _, estimates = weigh(
        line, setup.local_time, setup.seed, start_weighing(line, setup.seed), life.draws,
        setup.dated, life.end_ms,
    )  # fmt: skip
    rows = minute_rows(life)
    begin = int(rows.at_ms[0])
    watch, changes, waiting = Watch(), list[AlarmChange](), list[AnyEvent]()
    events, at = list(setup.dated), begin
    while at < life.end_ms:
        end = min(at + ANSWER_MS, life.end_ms)
        due = [e for e in events if e.at_ms <= end]
        events = [e for e in events if e.at_ms > end]
        watch, made = watch_over(
            line,
            watch,
            Block(end_ms=end, rows=_between(rows, at, end), events=(*due, *waiting)),
            tuple(e for e in estimates if at < e.at_ms <= end),
            local=setup.local_time,
            draws=_draws_between(life.draws, at, end),
        )
        changes += made
        waiting = [
            Acknowledged(at_ms=end + 1, known_at_ms=end + 1, alarm=c.alarm, who="barista")
            for c in made
            if c.state in ("unacknowledged", "returned-unacknowledged")
        ]
        at = end
    return Watched(changes=tuple(changes), begin_ms=begin, end_ms=life.end_ms)


def with_hours(life: QuickLife) -> LineSetup:
    """The line with opening hours that cover all usual flow, and a profile."""
    line = life.setup.lines[0]
    limits = msgspec.structs.replace(line.limits, outlet_high_mmol_l=8 * 0.178326)
    return msgspec.structs.replace(line, opening=usual_hours(life), limits=limits)


def usual_hours(life: QuickLife) -> tuple[tuple[int, int], ...]:
    """From the earliest to the latest usual draw of each weekday (one in a hundred left out)."""
    at = life.draws.end_ms + life.setup.local_time.offset_s[0] * 1000
    weekday, minute = (at // 86_400_000 + 3) % 7, at % 86_400_000 // MINUTE_MS
    hours = []
    for day in range(7):
        found = minute[weekday == day]
        if len(found) < 5:
            hours.append((0, 0))
            continue
        first, last = np.percentile(found, (1, 99))
        hours.append((int(first) - int(first) % 60, min(int(last) + 60, 1440)))
    return tuple(hours)


def minute_rows(life: QuickLife) -> Rows:
    """A row a minute with the pulses of the draws that end in it: the meters always speak."""
    draws = life.draws
    begin = int(draws.start_ms[0]) // MINUTE_MS * MINUTE_MS
    at = np.arange(begin, life.end_ms, MINUTE_MS, dtype=np.int64)
    pulses = np.zeros(len(at), dtype=np.int64)
    place = np.minimum((draws.end_ms - begin) // MINUTE_MS, len(at) - 1)
    np.add.at(pulses, place, draws.pulses)
    outlet = _held(at, draws, draws.outlet_ec25_us_cm)
    inlet = _held(at, draws, draws.inlet_ec25_us_cm)
    temp = np.full(len(at), 16.0)
    return Rows(
        at_ms=at,
        outlet_us_cm=outlet,
        outlet_temp_c=temp,
        inlet_us_cm=inlet,
        inlet_temp_c=temp,
        pulses=pulses,
        flags=np.zeros(len(at), dtype=np.int64),
    )


def _held(at: Floats, draws: Draws, values: Floats) -> Floats:
    """The value of the last draw before each instant."""
    place = np.searchsorted(draws.end_ms, at, side="right") - 1
    return np.where(place >= 0, values[np.maximum(place, 0)], np.nan)


def _between(rows: Rows, after: int, until: int) -> Rows:
    first, last = np.searchsorted(rows.at_ms, (after, until), side="right")
    return rows.cut(int(first), int(last))


def _draws_between(draws: Draws, after: int, until: int) -> Draws:
    first, last = np.searchsorted(draws.end_ms, (after, until), side="right")
    return draws.cut(int(first), int(last))
