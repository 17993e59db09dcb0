"""Faults that whole days tell: what moved, beside what stayed, and whether it moved at once."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final

from analytics.diagnosis.days import Day, move_of, shift_of, turned_of
from analytics.diagnosis.faults import Finding, finding
from analytics.diagnosis.steps import DayStep, moved_at, step_of
from analytics.samples import DAY_MS
from analytics.setup import LineSetup, LocalTime

BUBBLES: Final = 0.04
"""Share of bubbles from which the water is gassing; a few thousandths are usual."""
RATE: Final = 0.2
"""A cup is drawn at the same rate day by day to within this (ln)."""
DOUBLE: Final = 0.15
APART_K: Final = 5.0
"""Two thermometers in one flow never come to be so far apart, no main warms so within a day."""
POSSIBLE_C: Final = (0.5, 36.0)
WATER: Final = 0.035
"""A step of raw water's conductivity (ln) that a main does not make by itself within a day."""
APART: Final = 0.012
"""A step of one probe beside the other (ln) that their scatter over a day's draws does not make."""
LED: Final = 0.5
"""Where raw water moved by this share of it on the same days, the outlet only followed."""
BYPASS_OFF: Final = 0.1
LOWERS: Final = 0.95
"""A medium that takes conductivity away leaves less than this share of it."""
FRESH: Final = 0.15
"""No water makes a new bed out of one half used beyond this fall (ln)."""
MOVED: Final = 0.05
STAYED: Final = 0.03
LONE_FILM: Final = 0.08
WORN: Final = 0.62
"""A cartridge used by so much that falls back at once is a new one; where no bypass is open,
none can have been closed."""
SHIFTED_MIN: Final = 90
ALIKE_MIN: Final = 75


def found_in(line: LineSetup, local: LocalTime, days: tuple[Day, ...]) -> Iterator[Finding]:
    """What the days so far tell, the last of which has just ended."""
    if not days:
        return
    starts = [day.day * DAY_MS - local.offset_ms(day.day * DAY_MS) for day in days]
    yield from _clock(days, starts)
    yield from _bubbles(days[-1], starts[-1])
    yield from _thermometers(line, days, starts)
    yield from _counting(days, starts)
    if line.inlet_probe:
        yield from _levels(line, days, starts)
    else:
        yield from _lone_level(days, starts)


def _bubbles(day: Day, start: int) -> Iterator[Finding]:
    for which, share in (("outlet", day.outlet_low), ("inlet", day.inlet_low)):
        if share > BUBBLES:
            yield finding("bubbles", start, 0.9, which)


def _thermometers(line: LineSetup, days: tuple[Day, ...], starts: list[int]) -> Iterator[Finding]:
    outlet, into = [d.outlet_c for d in days], [d.inlet_c for d in days]
    for which, temps in (("outlet", outlet), ("inlet", into)):
        if not POSSIBLE_C[0] <= temps[-1] <= POSSIBLE_C[1] and math.isfinite(temps[-1]):
            yield finding("thermometer", starts[-1], 0.95, which)
            return
    moved = {"outlet": _jump(outlet), "inlet": _jump(into)}
    which = max(moved, key=lambda name: abs(moved[name]))
    apart = abs(moved["outlet"] - moved["inlet"]) if line.inlet_probe else abs(moved[which])
    if apart > APART_K:
        yield finding("thermometer", starts[-1], 0.8, which)


def _jump(temps: list[float]) -> float:
    """The last day against the middle of the three coolest known before it in the window."""
    known = [t for t in temps[:-1] if math.isfinite(t)]
    if len(known) < 3 or not math.isfinite(temps[-1]):
        return 0.0
    return temps[-1] - sorted(known[-9:])[len(known[-9:]) // 2]


def _counting(days: tuple[Day, ...], starts: list[int]) -> Iterator[Finding]:
    """A busy day has more draws, not larger ones: where each draw counts less or more, it is the
    meter's doing."""
    by, place = shift_of([d.rate for d in days], RATE)
    if by < 0.0:
        yield finding("pulses-lost", starts[place], 0.85, "flow")
    elif abs(by - math.log(2.0)) < DOUBLE:
        yield finding("pulses-doubled", starts[place], 0.9, "flow")


def _levels(line: LineSetup, days: tuple[Day, ...], starts: list[int]) -> Iterator[Finding]:
    """Two probes: what moved the water moves both, what moved one probe or the bypass moves one."""
    into = step_of([d.inlet for d in days])
    out = step_of([d.outlet for d in days])
    apart = step_of([d.ratio for d in days])
    if into.clear(WATER):
        if abs(out.by) > STAYED / 2 and abs(out.place - into.place) <= 1:
            yield finding("raw-water-changed", starts[into.place], 0.9)
        return
    still = abs(moved_at([d.inlet for d in days], apart.place)) < LED * abs(apart.by)
    if apart.clear(APART) and still:
        yield _outlet_stepped(line, days, starts, apart)
        return
    yield from _films(days, starts)


def _films(days: tuple[Day, ...], starts: list[int]) -> Iterator[Finding]:
    ratio = move_of([d.ratio for d in days])
    inlet = move_of([d.inlet for d in days])
    outlet = move_of([d.outlet for d in days])
    if abs(inlet.by) > MOVED and inlet.step:
        return
    if abs(ratio.by) <= MOVED or abs(outlet.by) + abs(inlet.by) < MOVED or ratio.step:
        return
    if ratio.by < 0.0 and outlet.by < -STAYED:
        yield finding("film", starts[ratio.place], 0.75, "outlet")
    elif ratio.by > 0.0 and inlet.by < -STAYED and abs(outlet.by) < STAYED:
        yield finding("film", starts[ratio.place], 0.75, "inlet")


def _outlet_stepped(
    line: LineSetup, days: tuple[Day, ...], starts: list[int], apart: DayStep
) -> Finding:
    """A worn bed that falls back is a new one; where not even a shut bypass explains a fall, the
    bed works on another water."""
    at = starts[apart.place]
    used = days[max(apart.place - 1, 0)].used
    if apart.by >= 0.0:
        return finding("bypass-moved", at, 0.75)
    if used > WORN or (line.bypass <= 0.0 and apart.by > -FRESH):
        return finding("cartridge-unannounced", at, 0.75)
    before = math.exp(days[max(apart.place - 1, 0)].ratio)
    lowest = _bed_alone(before, line.bypass) - STAYED
    if before < LOWERS and before * math.exp(apart.by) < lowest:
        return finding("raw-water-changed", at, 0.6)
    return finding("bypass-moved", at, 0.75)


def _bed_alone(ratio: float, bypass: float) -> float:
    """Outlet over inlet conductivity with the bypass shut; the setting may be off by a tenth of the
    whole."""
    share = min(bypass + BYPASS_OFF, 0.95)
    return max((ratio - share) / (1.0 - share), 0.0)


def _lone_level(days: tuple[Day, ...], starts: list[int]) -> Iterator[Finding]:
    outlet = move_of([d.outlet for d in days])
    if outlet.by < -LONE_FILM and not outlet.step:
        yield finding("film", starts[outlet.place], 0.5, "outlet")


def _clock(days: tuple[Day, ...], starts: list[int]) -> Iterator[Finding]:
    """The night's end and begin both moved, one way and alike: the place did not, the clock did.
    On a circle: a night that has moved over midnight has moved all the same."""
    ends, at_end = turned_of([d.night_end for d in days], SHIFTED_MIN)
    begins, at_begin = turned_of([d.night_begin for d in days], SHIFTED_MIN)
    if ends * begins > 0.0 and abs(ends - begins) < ALIKE_MIN:
        yield finding("clock-wrong", starts[max(at_end, at_begin)], 0.7)
