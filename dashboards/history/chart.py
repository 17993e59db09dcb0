"""The lanes of a record under one another on one time axis, as one drawing a size."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

import msgspec
import numpy as np
from markupsafe import Markup, escape

from analytics.quantities import HARDNESS
from analytics.samples import Floats, Spread
from dashboards.bed.svg import path, rect, text, text_width
from dashboards.history.lanes import (
    Axis,
    Scale,
    area_path,
    bars,
    dots,
    level_line,
    levels,
    line_path,
    room_for,
)
from dashboards.history.marks import alarm_words, marks_of
from dashboards.history.record import Record
from dashboards.history.ticks import ticks_of
from dashboards.phrases.reader import Reader
from dashboards.phrases.times import When

HEAD: Final = 56
"""Room for marks and their words."""
NO_MARKS: Final = 6
FOOT: Final = 34
GAP: Final = 30
"""Room for a lane's title."""


class Size(msgspec.Struct, frozen=True, kw_only=True):
    """One drawing: `plot` pixels of time and `margin` beside them for names and last values."""

    name: str
    plot: int
    margin: int
    heights: tuple[int, int, int, int, int]
    """EC25, hardness, temperature, flow, litres."""

    @property
    def width(self) -> int:
        """The whole drawing's."""
        return self.plot + self.margin


WIDE: Final = Size(name="wide", plot=856, margin=124, heights=(120, 112, 56, 56, 78))
PAPER: Final = Size(name="paper", plot=440, margin=100, heights=(84, 84, 36, 36, 50))
"""One pixel is a little over a quarter of a millimetre there: letters stay 11 point."""
PHONE: Final = Size(name="phone", plot=286, margin=72, heights=(110, 100, 50, 50, 66))


class Sheet:
    """A drawing as it is written, lane by lane from the top."""

    def __init__(self, record: Record, reader: Reader, when: When, size: Size) -> None:
        self.record, self.reader, self.when, self.size = record, reader, when, size
        self.axis = Axis(from_ms=record.span.from_ms, to_ms=record.span.to_ms, width=size.plot)
        self.parts: list[str] = []
        self.marks = marks_of(record, reader, when)
        self.head = HEAD if self.marks else NO_MARKS
        self.below = self.head
        self.xs = self.axis.xs(record.bins.middles)

    def lane(self, height: int, title: str) -> tuple[float, float]:
        """Take the next lane: its top and bottom."""
        top = self.below + GAP
        self.below = top + height
        self.parts.append(text(0, top - 12, title, "em on-paper"))
        return top, top + height

    def end_note(self, y: float, name: str, value: str, kind: str, more: str = "") -> None:
        """A series' name and last value in the margin beside its end."""
        x = self.size.plot + 8
        self.parts.append(text(x, y, name, f"em {kind}"))
        self.parts.append(text(x, y + 18, value, "dim"))
        if more:
            self.parts.append(text(x, y + 35, more, "dim"))


def chart(record: Record, reader: Reader, when: When, size: Size, label: str) -> Markup:
    """The record as one drawing."""
    sheet = Sheet(record, reader, when, size)
    lanes: tuple[Callable[[Sheet, int], None], ...] = (
        _conductivity,
        _hardness,
        _temperature,
        _flow,
        _litres,
    )
    for draw, height in zip(lanes, size.heights, strict=True):
        draw(sheet, height)
    bottom = sheet.below
    under = _grid(sheet, bottom) + _shut(sheet, bottom)
    over = _marks(sheet, bottom) + _reading_mark(sheet, bottom)
    return Markup(
        f'<svg class="history {size.name}" role="img" aria-label="{escape(label)}" '
        f'viewBox="0 0 {size.width} {bottom + FOOT}" width="{size.width}" '
        f'height="{bottom + FOOT}" data-plot="{size.plot}">'
        f"{_hatch(size)}{under}{''.join(sheet.parts)}{over}</svg>"
    )


def _hatch(size: Size) -> str:
    return (
        f'<defs><pattern id="hatch-{size.name}" width="7" height="7" '
        'patternUnits="userSpaceOnUse" patternTransform="rotate(45)">'
        '<path class="hatch" d="M0 0V7"/></pattern></defs>'
    )


def _grid(sheet: Sheet, bottom: float) -> str:
    parts = []
    free_from = -1.0
    for tick in ticks_of(sheet.record.span, sheet.when, sheet.size.plot):
        x = sheet.axis.x(tick.at_ms)
        parts.append(path("level", f"M{x:.0f} {sheet.head + 4}V{bottom}"))
        wide = text_width(tick.words)
        if x >= free_from and x + wide <= sheet.size.plot + 4:
            parts.append(text(x, bottom + 22, tick.words, "dim"))
            free_from = x + wide + 12
    parts.append(path("ground-line", f"M0 {bottom}H{sheet.size.plot}"))
    return "".join(parts)


def _shut(sheet: Sheet, bottom: float) -> str:
    parts = []
    for start, end in sheet.record.shut:
        x = sheet.axis.x(start)
        wide = sheet.axis.x(end) - x
        if wide >= 2:
            parts.append(rect("shut", x, sheet.head + 4, wide, bottom - sheet.head - 4))
    words = sheet.reader.say("history.shut")
    first = next(
        (s for s in sheet.record.shut
         if sheet.axis.x(s[1]) - sheet.axis.x(s[0]) > text_width(words) + 12), None
    )  # fmt: skip
    if first:
        parts.append(text(sheet.axis.x(first[0]) + 6, sheet.head + GAP + 14, words, "dim"))
    return "".join(parts)


def _conductivity(sheet: Sheet, height: int) -> None:
    record, say = sheet.record, sheet.reader.say
    top, bottom = sheet.lane(height, say("history.ec"))
    out, into = record.ec_out, record.ec_in
    dotted = record.draws is not None and len(record.draws) > 0
    low, high = room_for([out.low, out.high, into.low, into.high, out.mean, into.mean], 20.0)
    scale = Scale(low=max(low, 0.0), high=high, top=top, bottom=bottom)
    _levels(sheet, scale, lambda v: f"{v:,.0f}".replace(",", " "))
    _gaps(sheet, top, bottom)
    for trace, kind in ((into, "in"), (out, "out")):
        if kind == "out":
            sheet.parts.append(
                area_path("spread", sheet.xs, scale.ys(trace.low), scale.ys(trace.high))
            )
        if dotted:
            _draw_dots(sheet, scale, kind)
        else:
            sheet.parts.append(line_path(f"trace {kind}", sheet.xs, scale.ys(trace.mean)))
    free = -1e9
    for trace, name, kind in ((into, say("history.in"), "ink"), (out, say("history.out"), "wet")):
        if (last := _last(trace.mean)) is not None:
            y = max(scale.y(last), free)
            figure = sheet.reader.conductivity(_bare(last))
            value = figure.text if sheet.size is not PHONE else figure.value
            sheet.end_note(y, name, value, kind)
            free = y + 42


def _draw_dots(sheet: Sheet, scale: Scale, kind: str) -> None:
    draws = sheet.record.draws
    assert draws is not None
    values = draws.outlet_ec25_us_cm if kind == "out" else draws.inlet_ec25_us_cm
    sheet.parts.append(dots(f"dot {kind}", sheet.axis.xs(draws.start_ms), scale.ys(values)))


def _hardness(sheet: Sheet, height: int) -> None:
    record, reader = sheet.record, sheet.reader
    kind = record.line.capacity_kind
    top, bottom = sheet.lane(height, reader.say(f"history.hardness.{kind}"))
    found = record.hardness
    high_limit = record.line.limits.outlet_high_mmol_l
    marks = [v for t in record.tests for v in (t.low_mmol_l, t.high_mmol_l)]
    ends = [v for _, s in found for v in (s.p05, s.p95)]
    limits = [] if high_limit is None else [high_limit]
    low, high = room_for([np.array([0.0, *marks, *ends, *limits])], 0.5, share=0.06)
    scale = Scale(low=max(low, 0.0), high=high, top=top, bottom=bottom)
    _alarm_areas(sheet, top, bottom)
    _levels(sheet, scale, lambda v: reader.hardness_set(v), unit=reader.hardness_unit)
    if high_limit is not None:
        _limit(sheet, scale, high_limit)
    if found:
        _hardness_line(sheet, scale)
    for test in record.tests:
        y = scale.y(test.high_mmol_l)
        tall = max(scale.y(test.low_mmol_l) - y, 8.0)
        sheet.parts.append(rect("tested", sheet.axis.x(test.at_ms) - 5, y, 10, tall))


def _hardness_line(sheet: Sheet, scale: Scale) -> None:
    found = sheet.record.hardness
    at = np.array([a for a, _ in found])
    p50, p05, p95 = (np.array([getattr(s, n) for _, s in found]) for n in ("p50", "p05", "p95"))
    xs = sheet.axis.xs(at)
    apart = np.diff(at, prepend=at[0]) > max(3 * 86_400_000, sheet.record.span.length_ms // 60)
    for column in (p50, p05, p95):
        column[apart] = np.nan
    sheet.parts.append(area_path("hard-band", xs, scale.ys(p05), scale.ys(p95)))
    sheet.parts.append(line_path("hard-line", xs, scale.ys(p50)))
    last = found[-1][1]
    figure = sheet.reader.hardness(last)
    sheet.end_note(scale.y(last.p50), figure.text, figure.joined, "hard")


def _limit(sheet: Sheet, scale: Scale, value: float) -> None:
    y, plot = scale.y(value), sheet.size.plot
    sheet.parts.append(path("limit", f"M0 {y:.0f}H{plot}"))
    sheet.parts.append(path("bracket", f"M1 {y + 9:.0f}v-9h9M{plot - 10} {y:.0f}h9v9"))


def _alarm_areas(sheet: Sheet, top: float, bottom: float) -> None:
    for alarm in sheet.record.alarms:
        if alarm.priority == "low":
            continue
        until = sheet.record.now_ms if alarm.until_ms is None else alarm.until_ms
        x = sheet.axis.x(alarm.from_ms)
        wide = max(sheet.axis.x(until) - x, 3.0)
        sheet.parts.append(rect("alarm-area", x, top, wide, bottom - top))
        sheet.parts.append(path("alarm-bar", f"M{x:.0f} {top}h{wide:.0f}"))
    words = alarm_words(sheet.record, sheet.reader, sheet.when)
    if words is not None:
        alarm, said = words
        x = sheet.axis.x(alarm.from_ms)
        wide = text_width(said)
        x = max(min(x, sheet.size.plot - wide), 0.0)
        sheet.parts.append(text(x, top - 12 if x > 250 else top + 15, said, "brick on-paper"))


def _temperature(sheet: Sheet, height: int) -> None:
    record, reader = sheet.record, sheet.reader
    top, bottom = sheet.lane(height, reader.say("history.temp"))
    trace = record.temp
    low, high = room_for([trace.low, trace.high], 6.0)
    scale = Scale(low=low, high=high, top=top, bottom=bottom)
    _levels(sheet, scale, lambda v: f"{_degrees(reader, v):.0f}")
    sheet.parts.append(area_path("spread", sheet.xs, scale.ys(trace.low), scale.ys(trace.high)))
    sheet.parts.append(line_path("trace out", sheet.xs, scale.ys(trace.mean)))
    if (last := _last(trace.mean)) is not None:
        figure = reader.temperature(_bare(last, 0.25))
        sheet.end_note(scale.y(last), figure.text, reader.say("history.outlet"), "wet")


def _degrees(reader: Reader, celsius: float) -> float:
    return celsius if reader.temperature_unit == "degC" else celsius * 1.8 + 32


def _flow(sheet: Sheet, height: int) -> None:
    record, reader = sheet.record, sheet.reader
    top, bottom = sheet.lane(height, reader.say("history.flow"))
    trace = record.flow
    _, high = room_for([trace.high], 1.0, share=0.1)
    scale = Scale(low=0.0, high=max(high, 0.5), top=top, bottom=bottom)
    _levels(sheet, scale, lambda v: reader.decimal(f"{v:g}"))
    sheet.parts.append(area_path("spread", sheet.xs, scale.ys(trace.low), scale.ys(trace.high)))
    sheet.parts.append(line_path("trace out", sheet.xs, scale.ys(trace.mean)))
    sheet.parts.append(path("level", f"M0 {bottom:.0f}H{sheet.size.plot}"))
    if (last := _last(trace.high)) is not None:
        figure = reader.flow(_bare(last, 0.25))
        sheet.end_note(scale.y(last) + 8, figure.text, reader.say("history.fastest"), "wet")


def _litres(sheet: Sheet, height: int) -> None:
    record, reader = sheet.record, sheet.reader
    unit = "draw" if record.draws is not None else record.bins.unit
    top, bottom = sheet.lane(height, reader.say(f"history.litres.{unit}"))
    if record.draws is not None and record.draw_litres is not None:
        xs, litres = sheet.axis.xs(record.draws.start_ms), record.draw_litres
    else:
        xs, litres = sheet.xs, record.litres
    most = float(np.nanmax(litres)) if np.isfinite(litres).any() else 0.0
    if most <= 0:
        return
    sheet.parts.append(
        f'<g stroke-width="{_bar_width(sheet, len(litres)):.1f}">'
        + bars("litres-bar", xs, litres / most * (bottom - top), bottom)
        + "</g>"
    )
    whole = float(np.nansum(litres))
    figure = reader.volume(_bare(whole, max(whole * 0.02, 0.05)))
    sheet.end_note(bottom - 30, figure.text, reader.say("history.together"), "wet")


def _bar_width(sheet: Sheet, count: int) -> float:
    if sheet.record.draws is not None:
        return 3.0
    return float(min(max(sheet.size.plot / max(count, 1) * 0.7, 1.0), 14.0))


def _levels(
    sheet: Sheet, scale: Scale, words: Callable[[float], str], unit: str | None = None
) -> None:
    """Two light levels with their values, round ones in the reader's unit."""
    factor = HARDNESS.to_base(1.0, unit) if unit else 1.0
    for value in levels(scale.low / factor, scale.high / factor):
        y = scale.y(value * factor)
        if y > scale.top + 10:
            sheet.parts.append(level_line(y, sheet.size.plot, words(value * factor)))


def _gaps(sheet: Sheet, top: float, bottom: float) -> None:
    told = False
    for gap in sheet.record.gaps:
        x = sheet.axis.x(gap.from_ms)
        wide = max(sheet.axis.x(gap.until_ms) - x, 2.0)
        sheet.parts.append(
            f'<rect fill="url(#hatch-{sheet.size.name})" x="{x:.0f}" y="{top + 20:.0f}" '
            f'width="{wide:.0f}" height="{bottom - top - 40:.0f}"/>'
        )
        words = sheet.reader.say(f"history.gap.{gap.what}")
        if not told and x + text_width(words) < sheet.size.plot:
            sheet.parts.append(text(x, top + 14, words, "doubt on-paper"))
            told = True


def _marks(sheet: Sheet, bottom: float) -> str:
    parts = []
    free = [-1.0, -1.0]
    for mark in sheet.marks:
        x = sheet.axis.x(mark.at_ms)
        wide = text_width(mark.words) + 12
        row = next((n for n in (0, 1) if x >= free[n]), None)
        top = 56 if row is None else 36 if row else 14
        parts.append(path("mark-line", f"M{x:.0f} {top + 8}V{bottom}"))
        if row is None:  # both rows of words are taken here: a smaller diamond under them
            parts.append(path("mark", f"M{x:.0f} 53l4 5-4 5-4-5Z"))
            continue
        parts.append(path("mark", f"M{x:.0f} {top}l6 7-6 7-6-7Z"))
        fits = x + wide <= sheet.size.width
        start = x + 10 if fits else x - wide + 2
        if fits or start > free[row]:
            parts.append(text(start, top + 12, mark.words, "on-paper"))
            free[row] = (x + wide if fits else x) + 8
    return "".join(parts)


def _reading_mark(sheet: Sheet, bottom: float) -> str:
    x = sheet.axis.x(int(sheet.record.bins.middles[sheet.record.last_bin]))
    return (
        f'<g class="reading" data-reading="" transform="translate({x:.0f} 0)">'
        + path("reading-line", f"M0 {sheet.head}V{bottom}")
        + path("mark", f"M-7 {bottom + 8}h14l-7-9Z")
        + "</g>"
    )


def _last(values: Floats) -> float | None:
    there = values[np.isfinite(values)]
    return float(there[-1]) if len(there) else None


def _bare(value: float, half: float = 2.5) -> Spread:
    """A value read off a line, written to the digits that its step is good for."""
    return Spread(p50=value, p05=value - half, p95=value + half)
