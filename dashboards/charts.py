"""Small drawings of numbers, as SVG text: the week, a number against its window, evidence."""

from __future__ import annotations

import msgspec
from markupsafe import Markup, escape

from dashboards.bed.svg import path, rect, text, text_width

WEEK_HEIGHT, WEEK_BARS = 148, 88
STRIP_HEIGHT = 62


class Bar(msgspec.Struct, frozen=True, kw_only=True):
    """One day: its name, litres (None: draw the word alone), the word over it."""

    day: str
    litres: float | None
    over: str
    today: bool = False


def week(bars: tuple[Bar, ...], label: str, width: int) -> Markup:
    """Litres of the last days as bars from zero; a day without bar has its word."""
    most = max((b.litres or 0.0 for b in bars), default=0.0) or 1.0
    pitch = width / max(len(bars), 1)
    base = WEEK_HEIGHT - 24
    parts = [_bar(b, n * pitch, pitch, base, most) for n, b in enumerate(bars)]
    return _svg("week", width, WEEK_HEIGHT, label, "".join(parts))


def _bar(bar: Bar, x: float, pitch: float, base: float, most: float) -> str:
    width, middle = pitch - 8, x + pitch / 2
    height = WEEK_BARS * (bar.litres or 0.0) / most
    kind = "bar today" if bar.today else "bar"
    shape = rect(kind, x + 4, base - height, width, height) if height >= 1 else ""
    weight = "em mid" if bar.today else "mid"
    return (
        shape
        + path("ground", f"M{x + 4:.1f} {base}h{width:.1f}")
        + text(
            middle, base - height - 8, bar.over, weight if bar.litres else "dim mid", room=pitch - 4
        )
        + text(middle, base + 20, bar.day, "em mid" if bar.today else "dim mid", room=pitch - 4)
    )


class StripView(msgspec.Struct, frozen=True, kw_only=True):
    """One number against its window, all in the reader's unit; a limit of None is not set."""

    value: float
    low: float
    high: float
    window_low: tuple[float, str] | None
    window_high: tuple[float, str] | None
    raw: tuple[float, str] | None
    label: str


def strip(view: StripView, width: int) -> Markup:
    """Line, brackets, box from 5 to 95 %, bead at the median, open ring for raw water."""
    marks = [m[0] for m in (view.window_low, view.window_high, view.raw) if m]
    top = max([view.high, *marks]) * 1.12 or 1.0

    def at(value: float) -> float:
        return 10 + (width - 20) * value / top

    parts = [path("axis", f"M0 22H{width}")]
    parts.append(rect("box", at(view.low), 11, max(at(view.high) - at(view.low), 2), 22))
    parts += [_bracket(at(m[0]), side) for m, side in _limits(view)]
    if view.raw:
        parts.append(f'<circle class="ring" cx="{at(view.raw[0]):.1f}" cy="22" r="7"/>')
    parts.append(f'<circle class="bead" cx="{at(view.value):.1f}" cy="22" r="8"/>')
    words = [m for m in (view.window_low, view.window_high, view.raw) if m]
    parts += _words([(at(m[0]), m[1]) for m in words], width)
    return _svg("strip", width, STRIP_HEIGHT, view.label, "".join(parts))


def _limits(view: StripView) -> list[tuple[tuple[float, str], int]]:
    pairs = ((view.window_low, 1), (view.window_high, -1))
    return [(mark, side) for mark, side in pairs if mark]


def _bracket(x: float, side: int) -> str:
    """A square bracket at a limit that opens to this side (1: right, -1: left)."""
    return path("bracket", f"M{x + 8 * side:.1f} 6H{x:.1f}V38H{x + 8 * side:.1f}")


def _words(words: list[tuple[float, str]], width: int) -> list[str]:
    """Labels under the line, left to right, moved apart where they would touch."""
    out: list[str] = []
    free_from = 0.0
    for x, content in sorted(words):
        half = text_width(content, 16) / 2
        centre = min(max(x, free_from + half), width - half)
        free_from = centre + half + 8
        out.append(text(centre, 57, content, "dim mid"))
    return out


class EvidenceView(msgspec.Struct, frozen=True, kw_only=True):
    """Shares of evidence (sum 1) and the sentence that says them."""

    conductivity: float
    litres: float
    drop_tests: float
    label: str


def evidence(view: EvidenceView, width: int) -> Markup:
    """The evidence bar: conductivity lying lines, litres upright lines, drop tests dots."""
    shares = (view.conductivity, view.litres, view.drop_tests)
    room, height = width - 4, 34
    parts, x = [], 2.0
    for share, draw in zip(shares, (_lying, _upright, _dots), strict=True):
        wide = room * share
        if wide >= 1:
            parts.append(draw(x, wide, height) + rect("edge", x, 2, wide, height - 4))
        x += wide
    return _svg("evidence", width, height, view.label, "".join(parts))


def _lying(x: float, width: float, height: int) -> str:
    lines = "".join(f"M{x:.1f} {y}h{width:.1f}" for y in range(6, height - 4, 6))
    return rect("water-area", x, 2, width, height - 4) + path("lying", lines)


def _upright(x: float, width: float, height: int) -> str:
    count = int(width // 8)
    return path("upright", "".join(f"M{x + 8 * n:.1f} 3v{height - 6}" for n in range(1, count + 1)))


def _dots(x: float, width: float, height: int) -> str:
    count = max(int(width // 11), 1)
    start = x + (width - 11 * (count - 1)) / 2
    rows = "".join(f"M{start:.1f} {y}h{11 * (count - 1) + 1}" for y in (9, 17, 25))
    return path("dots", rows)


def _svg(kind: str, width: int, height: int, label: str, inner: str) -> Markup:
    return Markup(
        f'<svg class="{kind}" role="img" viewBox="0 0 {width} {height}" width="{width}" '
        f'height="{height}" aria-label="{escape(label)}">{inner}</svg>'
    )
