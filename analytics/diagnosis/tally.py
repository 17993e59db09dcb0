"""Rows and draws of a span counted into classes, in whole numbers and extremes.

Counts and extremes are the same however the rows are cut, so medians by class are too.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import Final, TypeAlias

import msgspec
import numpy as np

from analytics.chemistry.temperature import f25_where_defined
from analytics.samples import MINUTE_MS, Draws, Flag, Floats, Rows

Classes: TypeAlias = dict[int, int]
"""How many values fell into each class; class i begins at i times its width."""

TEMP_WIDTH: Final = 0.5
ROW_WIDTH: Final = 0.05
DRAW_WIDTH: Final = 0.005
RATE_WIDTH: Final = 0.05
USABLE_US_CM: Final = (15.0, 20_000.0)
LEAST_DRAW_MS: Final = 5_000
MOST_DRAW_MS: Final = 5 * MINUTE_MS
"""A cup's draw is no shorter and no longer."""


class ProbeTally(msgspec.Struct, frozen=True, kw_only=True):
    """One probe: temperature (K classes) and ln(EC25) of rows with flow, ln(EC25) of draws; the
    highest temperature of all rows so far and the largest fall from it."""

    temps: Classes = {}
    rows: Classes = {}
    draws: Classes = {}
    high_c: float = -math.inf
    fall_k: float = 0.0


class Tally(msgspec.Struct, frozen=True, kw_only=True):
    """Both probes, ln(outlet / inlet) of draws that both saw, ln(pulses a minute) of cups' draws,
    and rows whose instant was not sure."""

    outlet: ProbeTally = ProbeTally()
    inlet: ProbeTally = ProbeTally()
    ratios: Classes = {}
    rates: Classes = {}
    unsure: int = 0


NOTHING: Final = Tally()


def with_rows(tally: Tally, rows: Rows) -> Tally:
    """Count these rows in."""
    flowing = rows.pulses > 0
    unsure = int(np.count_nonzero(rows.flags & int(Flag.CLOCK_UNSURE)))
    return msgspec.structs.replace(
        tally,
        outlet=_with_rows(tally.outlet, rows.outlet_us_cm, rows.outlet_temp_c, flowing),
        inlet=_with_rows(tally.inlet, rows.inlet_us_cm, rows.inlet_temp_c, flowing),
        unsure=tally.unsure + unsure,
    )


def _with_rows(tally: ProbeTally, ec: Floats, temp: Floats, flowing: np.ndarray) -> ProbeTally:
    fall, high = tally.fall_k, tally.high_c
    known = temp[np.isfinite(temp)]
    if len(known):
        highs = np.maximum.accumulate(np.concatenate(([high], known)))
        fall = max(fall, float(np.max(highs[1:] - known)))
        high = float(highs[-1])
    ec25 = ec[flowing] * f25_where_defined(temp[flowing])
    return msgspec.structs.replace(
        tally,
        temps=added(tally.temps, classes(temp[flowing], TEMP_WIDTH)),
        rows=added(tally.rows, classes(_ln(ec25), ROW_WIDTH)),
        high_c=high,
        fall_k=fall,
    )


def with_draw(tally: Tally, draws: Draws, place: int) -> Tally:
    """Count one draw in."""
    outlet = _ln_of(float(draws.outlet_ec25_us_cm[place]))
    inlet = _ln_of(float(draws.inlet_ec25_us_cm[place]))
    length = int(draws.end_ms[place] - draws.start_ms[place])
    rate = math.nan
    if LEAST_DRAW_MS <= length <= MOST_DRAW_MS:
        rate = math.log(int(draws.pulses[place]) / length * MINUTE_MS)
    return msgspec.structs.replace(
        tally,
        outlet=_with_draw(tally.outlet, outlet),
        inlet=_with_draw(tally.inlet, inlet),
        ratios=_one_more(tally.ratios, outlet - inlet, DRAW_WIDTH),
        rates=_one_more(tally.rates, rate, RATE_WIDTH),
    )


def _with_draw(tally: ProbeTally, ln_ec25: float) -> ProbeTally:
    return msgspec.structs.replace(tally, draws=_one_more(tally.draws, ln_ec25, DRAW_WIDTH))


def _one_more(found: Classes, value: float, width: float) -> Classes:
    return added(found, {math.floor(value / width): 1}) if math.isfinite(value) else found


def _ln_of(ec25: float) -> float:
    return math.log(ec25) if USABLE_US_CM[0] < ec25 < USABLE_US_CM[1] else math.nan


def _ln(ec25: Floats) -> Floats:
    usable = (ec25 > USABLE_US_CM[0]) & (ec25 < USABLE_US_CM[1])
    return np.log(np.where(usable, ec25, np.nan))


def classes(values: Floats, width: float) -> Classes:
    """Finite values by class."""
    places, counts = np.unique(
        np.floor(values[np.isfinite(values)] / width).astype(np.int64), return_counts=True
    )
    return dict(zip(places.tolist(), counts.tolist(), strict=True))


def added(first: Classes, second: Classes) -> Classes:
    """Two counts as one."""
    if not second:
        return first
    both = dict(first)
    for place, n in second.items():
        both[place] = both.get(place, 0) + n
    return dict(sorted(both.items()))


def together(tallies: Iterable[Tally]) -> Tally:
    """Several spans as one; falls are those of the single spans."""
    every = tuple(tallies)
    return Tally(
        outlet=_joined(tuple(each.outlet for each in every)),
        inlet=_joined(tuple(each.inlet for each in every)),
        ratios=_all(each.ratios for each in every),
        rates=_all(each.rates for each in every),
        unsure=sum(each.unsure for each in every),
    )


def _joined(every: tuple[ProbeTally, ...]) -> ProbeTally:
    return ProbeTally(
        temps=_all(each.temps for each in every),
        rows=_all(each.rows for each in every),
        draws=_all(each.draws for each in every),
        fall_k=max((each.fall_k for each in every), default=0.0),
    )


def _all(every: Iterable[Classes]) -> Classes:
    found: Classes = {}
    for each in every:
        found = added(found, each)
    return found


def count(found: Classes) -> int:
    """How many values there are."""
    return sum(found.values())


def median(found: Classes, width: float, least: int = 1) -> float:
    """The median to the width of a class, between the two classes' middles where it falls between
    them; NaN for fewer than `least` values."""
    whole = count(found)
    if whole < least:
        return math.nan
    running = 0
    for place in sorted(found):
        before, running = running, running + found[place]
        if 2 * running >= whole:
            inside = (0.5 * whole - before) / found[place]
            return (place + inside) * width
    return math.nan


def share_below(found: Classes, steps: int) -> float:
    """Share of values more than so many classes below the median's class."""
    whole = count(found)
    if not whole:
        return 0.0
    middle = math.floor(median(found, 1.0))
    return sum(n for place, n in found.items() if place <= middle - steps) / whole
