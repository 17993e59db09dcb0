"""The bed profile: the cartridge as a column of resin, read from the top, as SVG text.

Down is capacity used; along the end line are days. Beads are drawn once and placed in each size
by `<use>`. Colours come from the page's stylesheet by class.
"""

from __future__ import annotations

from collections.abc import Iterator

from markupsafe import escape

from dashboards.bed import beads
from dashboards.bed.layout import (
    PHONE,
    WIDE,
    Column,
    Frame,
    Size,
    frame_of,
    front_height,
    place,
)
from dashboards.bed.ruler_drawing import ruler_svg
from dashboards.bed.svg import line, path, rect, text, text_width
from dashboards.bed.view import BedView, Channel, Words

__all__ = ["PHONE", "WIDE", "bead_definitions", "bed_svg"]

LEFT_LIMIT_OF_TEXT = 44
"""A channel narrower than this has its share written elsewhere."""


def bead_definitions(view: BedView) -> str:
    """A hidden SVG that holds the beads, for both sizes to use."""
    if view.medium == "carbon":
        shapes = f'<path id="bg" d="{beads.heel()}"/>'
        drawn = _uses(("#bg", "b-rim"), ("#bg", "b-pale"))
    elif view.no_bed:
        shapes = drawn = ""
    elif view.front is None:
        shapes = f'<path id="bn" d="{beads.all_beads()}"/>'
        drawn = _uses(("#bn", "b-not"), ("#bn", "b-hole"))
    else:
        spent, fresh = beads.paths(view.rows)
        shapes = f'<path id="bs" d="{spent}"/><path id="bf" d="{fresh}"/>'
        drawn = _uses(("#bs", "b-rim"), ("#bs", "b-pale"), ("#bf", "b-full"), ("#bf", "b-glint"))
    return (
        '<svg class="defs" width="0" height="0" aria-hidden="true"><defs>'
        f'{shapes}<g id="beads" class="beads">{drawn}</g></defs></svg>'
    )


def _uses(*layers: tuple[str, str]) -> str:
    return "".join(f'<use href="{target}" class="{kind}"/>' for target, kind in layers)


def bed_svg(view: BedView, size: Size) -> str:
    """The drawing in one size, with its four sentences for a screen reader."""
    channel = view.channel
    frame = frame_of(size, size.channel_width(channel.share) if channel else 0.0)
    height = max(size.height, int(size.note(len(_notes(view, size, frame)) - 1)) + 6)
    parts = (
        *_waters(view, size, frame),
        *_bed(view, size, frame),
        *_front(view, size, frame),
        *_end(view, size, frame),
        *_remarks(view, size, frame),
    )
    head = (
        f'<svg class="bed {size.name}{" stale" if view.stale else ""}" role="img" '
        f'viewBox="0 0 {size.width} {height}" width="{size.width}" height="{height}" '
        f'aria-label="{escape(view.title)}" aria-describedby="bed-said">'
    )
    return head + "".join(parts) + "</svg>"


def _waters(view: BedView, size: Size, frame: Frame) -> Iterator[str]:
    """Water in along the top, round the bed and through it, out along the foot."""
    foot, start = size.foot + 4, 0.0 if view.channel else frame.left
    yield rect("water-area", start, size.strip, frame.right - start, 12)
    yield rect("water-area", start, foot, frame.right - start, 11)
    if view.raw:
        yield text(frame.beads, size.strip - 10, view.raw[0], "em", after=view.raw[1])
    if view.out:
        yield text(0, foot + 33, view.out[0], "em", after=view.out[1])
    if view.channel:
        yield from _channel(view, view.channel, size, frame)


def _channel(view: BedView, channel: Channel, size: Size, frame: Frame) -> Iterator[str]:
    top, foot, width = size.strip + 12, size.foot + 4, frame.channel
    yield rect("water-area", 0, top, width, foot - top)
    if channel.estimated:
        count = max(int(width // 11), 1)
        steps = ((n + 0.5) * width / count for n in range(count))
        yield path("flow", "".join(_stream(x, top, foot, size, width) for x in steps))
    yield line("water-edge", width, top, width, foot)
    yield _left_edge(size, channel, foot)
    if width >= LEFT_LIMIT_OF_TEXT:
        middle = (size.top + size.end) / 2
        yield text(width / 2, middle, channel.text, "em mid on-water")
        if channel.range_text:
            yield text(width / 2, middle + 18, channel.range_text, "dim mid on-water")
        if text_width(view.goes_round) + 8 <= frame.beads:
            yield text(0, size.strip - 10, view.goes_round, "dim")


def _stream(x: float, top: float, foot: float, size: Size, width: float) -> str:
    """One dashed upright, with a gap for the share where that stands in the channel."""
    if width < LEFT_LIMIT_OF_TEXT:
        return f"M{x:.0f} {top + 2}V{foot - 3:.0f}"
    middle = (size.top + size.end) / 2
    return f"M{x:.0f} {top + 2}V{middle - 18:.0f}M{x:.0f} {middle + 26:.0f}V{foot - 3:.0f}"


def _left_edge(size: Size, channel: Channel, foot: float) -> str:
    """The channel's outer edge: straight, or a zigzag where the channel is cut."""
    if not size.is_cut(channel.share):
        return line("water-edge", 1, size.strip, 1, foot + 11)
    teeth = int((foot - size.strip) // 12)
    zigzag = "".join(f"l{6 if n % 2 == 0 else -6} 12" for n in range(teeth))
    return path("water-edge", f"M1 {size.strip}{zigzag}")


def _bed(view: BedView, size: Size, frame: Frame) -> Iterator[str]:
    """Walls, foot, the band of the front, and the beads over it."""
    wall_top = size.strip + 12
    if view.front and not view.no_bed:
        low, _, high = (size.at(u) for u in view.front)
        height = max(high - low, 2)
        yield rect("band", frame.left + 2, low, frame.right - frame.left - 4, height)
    yield (
        f'<use href="#beads" transform="translate({frame.beads:.1f} {size.top:g}) '
        f'scale({size.scale})"/>'
    )
    if view.medium == "membrane":
        yield from _membrane(size, frame)
    yield path("bed-wall", f"M{frame.left:.1f} {wall_top}V{size.foot + 4:.0f}")
    yield path("bed-wall", f"M{frame.right:.1f} {size.strip}V{size.foot + 15:.0f}")
    yield line("foot", frame.left, size.foot, frame.right, size.foot)


def _membrane(size: Size, frame: Frame) -> Iterator[str]:
    """Two channels with the membrane between: what passes flows on, what is held back leaves."""
    top, foot = size.strip + 12, size.foot
    middle = (frame.left + frame.right) / 2
    yield rect("water-area", middle, top, frame.right - middle, foot - top)
    wide = (frame.right - middle) / 4
    yield path("flow", "".join(f"M{middle + wide * n:.0f} {top}V{foot:.0f}" for n in (1, 2, 3)))
    yield path("membrane", f"M{middle:.1f} {top}V{foot:.0f}")


def _front(view: BedView, size: Size, frame: Frame) -> Iterator[str]:
    """Bracket and pointer at the right wall, and the column of words."""
    if view.front is None:
        if not view.no_bed:
            middle = (size.top + size.end) / 2
            yield text(frame.words + 14, middle, "?", "ask")
        else:
            room = size.width - frame.words
            yield text(frame.words, size.top + 20, view.no_bed, "dim", room=room)
            yield from _block(view.fresh, size, frame, size.top + 40)
        return
    low, mid, high = view.front
    top, bottom = size.at(low), max(size.at(high), size.at(low) + 4)
    yield path("bracket", f"M{frame.right + 6:.1f} {top:.1f}h8V{bottom:.1f}h-8")
    if view.past:
        yield from _block(view.spent, size, frame, size.top + 20)
        return
    spent, fresh = view.spent, view.fresh
    column = place(size, mid, _lines(spent), _lines(fresh))
    yield from _pointer(view, size, frame, column, size.at(mid))
    yield from _block(spent if low > 0.02 else None, size, frame, column.spent)
    yield from _block(fresh, size, frame, column.fresh)


def _lines(words: Words | None) -> int:
    return 1 + len(words.lines) if words else 0


def _pointer(
    view: BedView, size: Size, frame: Frame, column: Column, height: float
) -> Iterator[str]:
    if view.front_words is None:
        return
    base = column.front + size.line - 4
    target = base + size.big - 5
    reach = frame.words - 5
    yield path("pointer", f"M{frame.right + 3:.1f} {height:.1f}H{reach - 7:.1f}")
    if abs(target - height) > 2:
        yield path("leader", f"M{reach - 7:.1f} {height:.1f}V{target:.1f}H{reach:.1f}")
    else:
        yield path("pointer", f"M{reach - 8:.1f} {height:.1f}H{reach:.1f}")
    left, ends = view.front_words.lines
    room = size.width - frame.words
    yield text(frame.words, base, view.front_words.title, "dim", room=room)
    yield text(frame.words, base + size.big + 2, left, "big")
    yield text(frame.words, column.front + front_height(size) - 3, ends, "dim")


def _block(words: Words | None, size: Size, frame: Frame, top: float | None) -> Iterator[str]:
    if words is None or top is None:
        return
    base = top + size.line - 4
    room = size.width - frame.words
    yield text(frame.words, base, words.title, "em", room=room)
    for number, content in enumerate(words.lines, start=1):
        last = number == len(words.lines)
        kind = "dim" if last else ""
        yield text(frame.words, base + number * size.line, content, kind, room=room)


def _end(view: BedView, size: Size, frame: Frame) -> Iterator[str]:
    """The end line; from the words on it is a ruler of days."""
    state = "end past" if view.past else "end"
    yield line(state, frame.left - 12, size.end, size.width - 4, size.end)
    if view.past_words:
        base = size.end + 24
        yield text(frame.words, base, view.past_words.title, "past-word")
        lines = view.past_words.lines if size.dates_above else view.past_short
        for number, content in enumerate(lines, start=1):
            room = size.width - frame.words
            yield text(frame.words, base + number * size.line, content, "dim", room=room)
    if view.ruler:
        yield from ruler_svg(view, view.ruler, size, frame)


def _remarks(view: BedView, size: Size, frame: Frame) -> Iterator[str]:
    """What makes the drawing less than it looks: age, or a probe that cannot see."""
    base = size.foot + 4
    if view.stale:
        room = size.width - frame.right - 8
        yield text(size.width - 2, size.strip + 9, view.stale, "doubt end-at", room=room)
    if view.blind:
        x = frame.right + 14
        yield f'<circle class="struck" cx="{x:.1f}" cy="{base + 4:.0f}" r="8"/>'
        yield path("struck-bar", f"M{x - 6:.1f} {base + 10:.0f}l12 -12")
        if _blind_beside(view, size, frame):
            for number, content in enumerate(view.blind):
                yield text(frame.words, base + 2 + number * size.line, content, "doubt")
    for number, content in enumerate(_notes(view, size, frame)):
        yield text(0, size.note(number), content, "doubt")


def _blind_beside(view: BedView, size: Size, frame: Frame) -> bool:
    """Whether there is room beside the words of the outlet."""
    return size.dates_above and text_width(" ".join(view.out or ())) + 8 <= frame.words


def _notes(view: BedView, size: Size, frame: Frame) -> list[str]:
    """What stands in pencil under the drawing."""
    notes = [view.channel.differs] if view.channel and view.channel.differs else []
    if view.blind and not _blind_beside(view, size, frame):
        notes.append(" ".join(view.blind))
    return notes
