"""The ruler of days drawn on the end line, with words that do not run into each other."""

from __future__ import annotations

from collections.abc import Iterator

from dashboards.bed.layout import Frame, Size
from dashboards.bed.ruler import Ruler
from dashboards.bed.svg import path, rect, text, text_width
from dashboards.bed.view import BedView

BOX = 14
SPACE = 6


def ruler_svg(view: BedView, days: Ruler, size: Size, frame: Frame) -> Iterator[str]:
    """Ticks, box, stroke and dates; above the line in the wide size, below it on a phone."""
    start, room = frame.words, size.width - 6 - frame.words
    ticks = "".join(f"M{start + room * t:.1f} {size.end:.0f}v7" for t in days.ticks)
    yield path("ticks", ticks)
    low, mid, high = (start + room * f for f in (days.low_at, days.mid_at, days.high_at))
    if days.beyond:
        yield path("arrow", f"M{start + room - 7:.1f} {size.end - 6:.0f}l7 6l-7 6")
        yield text(start + room, _above(size), view.after, "em end-at")
        yield text(start, size.end + 25, view.today, "dim")
        return
    if not days.no_width:
        yield rect("day-box", low, size.end - BOX / 2, max(high - low, 2), BOX)
    yield path("day", f"M{mid:.1f} {size.end - 13:.0f}v26")
    yield from _dates(view, days, size, (start, low, mid, high, start + room))


def _above(size: Size) -> float:
    return size.end - 19 if size.dates_above else size.end + 25


def _dates(
    view: BedView,
    days: Ruler,
    size: Size,
    places: tuple[float, float, float, float, float],
) -> Iterator[str]:
    start, low, mid, high, right = places
    under = days.joined if not days.no_width else view.end_note
    if not size.dates_above:
        yield text(right, size.end + 25, days.short_label, "em end-at")
        yield text(right, size.end + 43, under, "dim end-at")
        if right - text_width(days.short_label, 16) > start + text_width(view.today) + SPACE:
            yield text(start, size.end + 25, view.today, "dim")
        return
    yield text(_held(mid, days.label, start, right), _above(size), days.label, "em mid")
    apart = high - low > (text_width(days.low) + text_width(days.high)) / 2 + SPACE
    if apart and not days.no_width:
        first = low - text_width(days.low) / 2
        for x, content in ((low, days.low), (high, days.high)):
            yield text(_held(x, content, start, right), size.end + 25, content, "dim mid")
    else:
        centre = _held((low + high) / 2, under, start, right)
        first = centre - text_width(under) / 2
        yield text(centre, size.end + 25, under, "dim mid")
    if first > start + text_width(view.today) + SPACE:
        yield text(start, size.end + 25, view.today, "dim")


def _held(centre: float, content: str, left: float, right: float) -> float:
    """A centre moved so that the text stays between two uprights."""
    half = text_width(content) / 2
    return min(max(centre, left + half), right - half)
