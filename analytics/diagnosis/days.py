"""Whole local days of a line as medians, and how a level moved over them: at once or slowly."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

import msgspec
import numpy as np

from analytics.diagnosis.tally import (
    DRAW_WIDTH,
    RATE_WIDTH,
    TEMP_WIDTH,
    ProbeTally,
    Tally,
    count,
    median,
    share_below,
)

LEAST_DRAWS: Final = 5
LEAST_CUPS: Final = 20
LEAST_ROWS: Final = 60
BUBBLE_STEPS: Final = 6
"""A reading so many classes (of 5 %) under the day's middle is a bubble's."""
LOOKED_BACK: Final = 14
HALVES: Final = 48
HALF_MIN: Final = 30
NIGHT: Final = 8
"""Half hours: no place that shuts is shut for less than four hours."""
FIRST_DAYS: Final = 3
ALL_AT_ONCE: Final = 0.75
"""A move is a step where two days hold this share of it."""
SETTLED: Final = 0.3
"""A step has settled where its last day moved by less than this share of it."""


class Day(msgspec.Struct, frozen=True, kw_only=True):
    """A day's medians: ln(EC25) of outlet and inlet, ln of their ratio, temperatures of flowing
    water, ln(pulses a minute) of a cup's draw; shares of readings that are bubbles; the minutes of
    the day of its first flow (-1: none) and of the end and begin of its longest dry spell, night
    (NaN: no such spell); share of the cartridge used at its end, NaN where
    not known."""

    day: int
    outlet: float = math.nan
    inlet: float = math.nan
    ratio: float = math.nan
    outlet_c: float = math.nan
    inlet_c: float = math.nan
    rate: float = math.nan
    outlet_low: float = 0.0
    inlet_low: float = 0.0
    first_minute: int = -1
    night_end: float = math.nan
    night_begin: float = math.nan
    used: float = math.nan


class Move(msgspec.Struct, frozen=True, kw_only=True):
    """By how much a level moved (ln), whether at once, whether it has settled, and the place of the
    day it began."""

    by: float = 0.0
    step: bool = False
    settled: bool = False
    place: int = 0


def day_of(day: int, tally: Tally, first: int, wet: int, used: float) -> Day:
    """The day as medians; figures of too few values are NaN. `wet` has a bit for every half hour
    with flow."""
    night_end, night_begin = night_of(wet)
    return Day(
        day=day,
        outlet=median(tally.outlet.draws, DRAW_WIDTH, LEAST_DRAWS),
        inlet=median(tally.inlet.draws, DRAW_WIDTH, LEAST_DRAWS),
        ratio=median(tally.ratios, DRAW_WIDTH, LEAST_DRAWS),
        outlet_c=median(tally.outlet.temps, TEMP_WIDTH, LEAST_ROWS),
        inlet_c=median(tally.inlet.temps, TEMP_WIDTH, LEAST_ROWS),
        rate=median(tally.rates, RATE_WIDTH, LEAST_CUPS),
        outlet_low=bubbles_in(tally.outlet),
        inlet_low=bubbles_in(tally.inlet),
        first_minute=first,
        night_end=night_end,
        night_begin=night_begin,
        used=used,
    )


def night_of(wet: int) -> tuple[float, float]:
    """Minutes of the day at which the longest dry spell ends and begins, the day as a circle; NaN
    where it is shorter than a night or there was no flow."""
    flows = [bool(wet >> half & 1) for half in range(HALVES)]
    longest, end, run = 0, 0, 0
    for place in range(2 * HALVES):
        run = 0 if flows[place % HALVES] else run + 1
        if longest < run <= HALVES:
            longest, end = run, place + 1
    if not NIGHT <= longest < HALVES:
        return math.nan, math.nan
    return float(end % HALVES * HALF_MIN), float((end - longest) % HALVES * HALF_MIN)


def turned_of(minutes: Sequence[float], least: float) -> tuple[float, int]:
    """As `shift_of`, for minutes of the day: the shorter way round."""
    known = [m for m in minutes if math.isfinite(m)][-LOOKED_BACK:]
    if not known:
        return 0.0, 0
    usual = sorted(known[:FIRST_DAYS])[len(known[:FIRST_DAYS]) // 2]
    return shift_of([(m - usual + 720.0) % 1440.0 - 720.0 for m in minutes], least)


def bubbles_in(probe: ProbeTally) -> float:
    """Share of the readings of flowing water far below their middle; 0 for too few readings."""
    if count(probe.rows) < LEAST_ROWS:
        return 0.0
    return share_below(probe.rows, BUBBLE_STEPS)


def move_of(values: Sequence[float]) -> Move:
    """How a level moved from the first days of the window to the last two."""
    known = [(place, v) for place, v in enumerate(values) if math.isfinite(v)][-LOOKED_BACK:]
    if len(known) < FIRST_DAYS + 2:
        return Move()
    levels = np.array([v for _, v in known])
    by = float(np.median(levels[-2:]) - np.median(levels[:FIRST_DAYS]))
    if by == 0.0:
        return Move()
    jumps = (levels[2:] - levels[:-2]) / by
    at = int(np.argmax(jumps))
    settled = abs(float(levels[-1] - levels[-2])) < SETTLED * abs(by)
    return Move(
        by=by, step=float(jumps[at]) >= ALL_AT_ONCE, settled=settled, place=known[at + 1][0]
    )


def shift_of(values: Sequence[float], least: float) -> tuple[float, int]:
    """By how much the last two days both left the first days' median, if by `least`, and the place
    where the days that did begin; 0 where they did not."""
    known = [(place, v) for place, v in enumerate(values) if math.isfinite(v)][-LOOKED_BACK:]
    if len(known) < FIRST_DAYS + 2:
        return 0.0, 0
    usual = float(np.median([v for _, v in known[:FIRST_DAYS]]))
    offs = [v - usual for _, v in known]
    if min(abs(off) for off in offs[-2:]) < least or offs[-1] * offs[-2] < 0.0:
        return 0.0, 0
    first = len(offs) - 2
    while first > 0 and abs(offs[first - 1]) >= least and offs[first - 1] * offs[-1] > 0.0:
        first -= 1
    return 0.5 * (offs[-1] + offs[-2]), known[first][0]
