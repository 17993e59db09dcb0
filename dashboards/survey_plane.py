"""The plane of hardness and alkalinity as SVG: window, raw water, bypass, blend.

Drawn once per size, wide or phone, and never scaled. Colours are the page's variables with the
light values beside them, so that the drawing stands alone as well; a dark screen has its own.
"""

from __future__ import annotations

from typing import Final

import msgspec
import numpy as np
from markupsafe import Markup, escape

from analytics.quantities import ALKALINITY, HARDNESS
from analytics.survey.plan import Survey
from dashboards.bed.svg import line, path, rect, text, text_width
from dashboards.phrases.numbers import THIN
from dashboards.phrases.reader import Reader
from dashboards.survey_scene import Scene, scene_of
from dashboards.survey_words import short

FLECKS: Final = 1300
"""Places where a fleck may lie; how many are drawn grows with the index."""
FLECK_FROM, FLECK_FULL = 0.3, 2.0
"""Saturation index at which the first fleck appears, and at which all do."""
STEPS: Final = (0.754877666, 0.569840291)
"""Powers of 1/1.3247179572, the root of x^3 = x + 1: places that spread evenly without a grid
(Roberts' generalised golden ratio)."""
CORNER: Final = 10.0
LEAST_PX: Final = 9.0


class Size(msgspec.Struct, frozen=True, kw_only=True):
    """Where the plot lies in the drawing."""

    width: int
    height: int
    left: int
    top: int
    right: int
    bottom: int


WIDE: Final = Size(width=640, height=520, left=52, top=40, right=560, bottom=460)
PHONE: Final = Size(width=358, height=380, left=40, top=36, right=340, bottom=326)


def survey_plane(found: Survey, reader: Reader, size: Size = WIDE, *, alone: bool = True) -> Markup:
    """The drawing for the best candidate, with a title and a description for who cannot see it.
    One that does not stand `alone` is coloured by the style sheet of its page."""
    scene = scene_of(found, reader)
    draw = _Draw(scene=scene, size=size, reader=reader)
    inner = "".join(
        (
            draw.axes(),
            _flecks(found, draw),
            draw.window(),
            draw.diagonal(),
            draw.raw(),
            draw.bypass(),
            draw.blended(),
            draw.words(),
        )
    )
    style = f"<style>{STYLE}</style>" if alone else ""
    title, said = reader.say("plane.title"), describe(scene, reader)
    return Markup(
        f'<svg class="plane" role="img" xmlns="http://www.w3.org/2000/svg" '
        f'viewBox="0 0 {size.width} {size.height}" width="{size.width}" height="{size.height}" '
        f'aria-label="{escape(title)}. {escape(said)}"><title>{escape(title)}</title>'
        f"<desc>{escape(said)}</desc>{style}{inner}</svg>"
    )


def describe(scene: Scene, reader: Reader) -> str:
    """What the drawing shows, in sentences."""
    say, low, high = reader.say, scene.window_low, scene.window_high

    def three(value: float) -> str:
        return f"{value:.3g}".replace(".", reader.language.numbers.decimal)

    ends = {"left": low[0], "right": high[0], "low": low[1], "high": high[1]}
    raw = dict(zip(("hardness", "alkalinity"), map(three, scene.raw), strict=True))
    parts = [
        say("plane.said.axes", unit=scene.unit),
        say("plane.said.window", **{name: three(value) for name, value in ends.items()}),
        say("plane.said.raw", **raw),
    ]
    if scene.blended is not None:
        at = dict(zip(("hardness", "alkalinity"), map(three, scene.blended), strict=True))
        if scene.share:
            parts.append(say("plane.said.machine-bypass", share=reader.share(scene.share), **at))
        else:
            parts.append(say("plane.said.machine", family=scene.family, **at))
    parts.append(say("plane.said.flecks"))
    return " ".join(parts)


class _Draw(msgspec.Struct, frozen=True, kw_only=True):
    """Pieces of the drawing, back to front."""

    scene: Scene
    size: Size
    reader: Reader

    def x(self, hardness: float) -> float:
        """Across, from the reader's unit."""
        s = self.size
        return s.left + (s.right - s.left) * hardness / self.scene.most[0]

    def y(self, alkalinity: float) -> float:
        """Up, from the reader's unit."""
        s = self.size
        return s.bottom - (s.bottom - s.top) * alkalinity / self.scene.most[1]

    def axes(self) -> str:
        """Grid, axes and their words."""
        s, scene, say = self.size, self.scene, self.reader.say
        parts = []
        for value in scene.ticks(0):
            x = self.x(value)
            parts.append(line("grid", x, s.top, x, s.bottom))
            parts.append(text(x, s.bottom + 19, short(value, self.reader), "dim mid"))
        for value in scene.ticks(1):
            y = self.y(value)
            parts.append(line("grid", s.left, y, s.right, y))
            if value > 0:
                parts.append(text(s.left - 8, y + 5, short(value, self.reader), "dim end"))
        parts.append(path("axis", f"M{s.left} {s.top}V{s.bottom}H{s.right}"))
        parts.append(text(s.left, s.top - 14, say("plane.up", unit=scene.unit), "dim"))
        across = say("plane.across", unit=scene.unit)
        parts.append(text(s.right, s.bottom + 42, across, "dim end"))
        return "".join(parts)

    def window(self) -> str:
        """The window: a pale area between square brackets."""
        (x0, y1), (x1, y0) = self._at(self.scene.window_low), self._at(self.scene.window_high)
        reach = min(CORNER, (x1 - x0) / 3, (y1 - y0) / 3)
        corners = (
            f"M{x0 + reach:.1f} {y0:.1f}H{x0:.1f}V{y0 + reach:.1f}"
            f"M{x1 - reach:.1f} {y0:.1f}H{x1:.1f}V{y0 + reach:.1f}"
            f"M{x0 + reach:.1f} {y1:.1f}H{x0:.1f}V{y1 - reach:.1f}"
            f"M{x1 - reach:.1f} {y1:.1f}H{x1:.1f}V{y1 - reach:.1f}"
        )
        return rect("area", x0, y0, x1 - x0, y1 - y0) + path("bracket", corners)

    def diagonal(self) -> str:
        """Where alkalinity equals hardness."""
        end = min(self.scene.most[0], self.scene.most[1] / self.scene.slope)
        top = self._at((end, end * self.scene.slope))
        return line("same", self.size.left, self.size.bottom, *top)

    def raw(self) -> str:
        """Raw water as wide as a drop or its doubt; broken where one side was not tested."""
        (h0, h1), (a0, a1) = self.scene.raw_box
        x0, x1 = _at_least(self.x(h0), self.x(h1))
        y1, y0 = _at_least(self.y(a1), self.y(a0))
        kind = "raw guessed" if self.scene.guessed else "raw"
        return rect(kind, x0, y1, x1 - x0, y0 - y1)

    def bypass(self) -> str:
        """The line the blended point runs along, a tick each tenth."""
        scene = self.scene
        if scene.treated is None:
            return ""
        start, end = self._at(scene.treated), self._at(scene.raw)
        parts = [line("run", *start, *end)]
        if scene.ticked:
            parts.append(path("tick", "".join(_ticks(start, end))))
            parts.append(f'<circle class="ring" cx="{start[0]:.1f}" cy="{start[1]:.1f}" r="6"/>')
            parts += self._tenths(start, end)
        return "".join(parts)

    def _tenths(self, start: tuple[float, float], end: tuple[float, float]) -> list[str]:
        """Labels at 30, 50 and 70 % where there is room."""
        if np.hypot(end[0] - start[0], end[1] - start[1]) < 150:
            return []
        flat = abs(end[1] - start[1]) < 0.3 * abs(end[0] - start[0])
        out = []
        for share in (0.5, 0.7, 0.9):
            if self.scene.share is not None and abs(share - self.scene.share) < 0.12:
                continue
            x = start[0] + share * (end[0] - start[0]) + (-12 if flat else 12)
            y = start[1] + share * (end[1] - start[1]) + (24 if flat else 12)
            if self._on_words(x, y):
                continue
            out.append(text(x, y, f"{100 * share:.0f}{THIN}%", "small"))
        return out

    def _on_words(self, x: float, y: float) -> bool:
        """Whether a label here would lie on that of the blended water or on raw water's square."""
        if self.scene.blended is None:
            return False
        (bx, by), (rx, ry) = self._at(self.scene.blended), self._at(self.scene.raw)
        on_blend = abs(y - by - 6) < 34 and bx - 40 < x < bx + 150
        return on_blend or (abs(x + 16 - rx) < 34 and abs(y - ry) < 24)

    def blended(self) -> str:
        """The machine's water: a bead with its 5-95 % stretch."""
        scene = self.scene
        if scene.blended is None:
            return ""
        x, y = self._at(scene.blended)
        low, high = (self._at(p) for p in scene.stretch)
        return (
            f'<path class="stretch" d="M{low[0]:.1f} {low[1]:.1f}L{high[0]:.1f} {high[1]:.1f}"/>'
            f'<circle class="bead" cx="{x:.1f}" cy="{y:.1f}" r="8"/>'
        )

    def words(self) -> str:
        """Names of raw, blended and bed; each moved to where there is room."""
        scene, s, say = self.scene, self.size, self.reader.say
        parts = []
        raw_x, raw_y = self._at(scene.raw)
        name = f"{scene.raw_words[0]} / {scene.raw_words[1]}"
        if scene.blended is None or scene.same:
            label = say("plane.raw-stays" if scene.same else "plane.raw")
            return self._two(raw_x, raw_y, label, name, away=18)
        half = self.y(scene.raw_box[1][0]) - self.y(scene.raw_box[1][1])
        above = raw_y - max(half, LEAST_PX) / 2 - 30
        wide = text_width(name) / 2
        middle = min(max(raw_x, s.left + wide + 4), s.width - wide - 4)
        if above < s.top - 2:
            above = raw_y + max(half, LEAST_PX) / 2 + 20
        parts.append(text(middle, above, say("plane.raw"), "em mid"))
        parts.append(text(middle, above + 18, name, "mid"))
        x, y = self._at(scene.blended)
        words = f"{scene.words[0]} / {scene.words[1]}"
        away = self._beyond_window(x, y, max(text_width(scene.name), text_width(words)))
        parts.append(self._two(x, y, scene.name, words, away=away))
        if scene.treated is not None and scene.ticked and scene.share:
            at = self._at(scene.treated)
            parts.append(self._bed(at, y))
        return "".join(parts)

    def _beyond_window(self, x: float, y: float, wide: float) -> float:
        """How far beside the bead its words begin: past the window's bracket, where they fit."""
        (_, foot), (right, head) = self._at(self.scene.window_low), self._at(self.scene.window_high)
        past = right + 10 - x
        inside = head - 14 < y < foot + 24 and x + 22 < right + 4 < x + 22 + wide + 8
        return past if inside and x + past + wide <= self.size.width else 22.0

    def _bed(self, at: tuple[float, float], taken_y: float) -> str:
        y = at[1] - 6 if at[1] > self.size.bottom - 12 else at[1] + 20
        if abs(y - taken_y) < 42:
            return ""
        return text(at[0] + 13, y, self.reader.say("plane.bed"), "small")

    def _two(self, x: float, y: float, first: str, second: str, *, away: float) -> str:
        """Two lines beside a point, with a leader; on the side where they fit."""
        wide = max(text_width(first), text_width(second))
        right = x + away + wide <= self.size.width
        side = 1 if right else -1
        kind = "" if right else "end"
        start = x + side * away
        up = min(max(y, self.size.top + 14), self.size.bottom - 24)
        return (
            line("leader", x + side * 9, y, start - side * 4, up)
            + text(start, up - 1, first, f"em {kind}".strip())
            + text(start, up + 17, second, kind)
        )

    def _at(self, point: tuple[float, float]) -> tuple[float, float]:
        return self.x(point[0]), self.y(point[1])


def _at_least(low: float, high: float) -> tuple[float, float]:
    """Both ends, moved apart to the least that can be seen."""
    short = max(LEAST_PX - (high - low), 0.0) / 2
    return low - short, high + short


def _ticks(start: tuple[float, float], end: tuple[float, float]) -> list[str]:
    """Short strokes across the line at each tenth."""
    along = np.array(end) - np.array(start)
    length = float(np.hypot(*along))
    if length < 30:
        return []
    across = np.array([-along[1], along[0]]) / length * 5
    out = []
    for tenth in range(1, 10):
        x, y = np.array(start) + along * tenth / 10
        out.append(
            f"M{x - across[0]:.1f} {y - across[1]:.1f}L{x + across[0]:.1f} {y + across[1]:.1f}"
        )
    return out


def _flecks(found: Survey, draw: _Draw) -> str:
    """Lime flecks that thicken with the saturation index, in one path of round caps."""
    s, scene = draw.size, draw.scene
    number = np.arange(1, FLECKS * (s.right - s.left) * (s.bottom - s.top) // 213_360)
    u, v = np.mod(0.5 + number * STEPS[0], 1.0), np.mod(0.5 + number * STEPS[1], 1.0)
    hard = HARDNESS.to_base(1.0, draw.reader.hardness_unit) * u * scene.most[0]
    alk = ALKALINITY.to_base(1.0, draw.reader.hardness_unit) * v * scene.most[1]
    share = (found.plane.at(hard, alk) - FLECK_FROM) / (FLECK_FULL - FLECK_FROM)
    drawn = np.random.default_rng(len(number)).random(len(number)) < np.clip(share, 0.0, 1.0) ** 1.3
    x = s.left + 4 + (s.right - s.left - 8) * u[drawn]
    y = s.bottom - 4 - (s.bottom - s.top - 8) * v[drawn]
    data = "".join(f"M{a:.0f} {b:.0f}h.1" for a, b in zip(x.tolist(), y.tolist(), strict=True))
    word = text(s.right, s.top - 14, draw.reader.say("plane.flecks"), "dim end")
    return path("flecks", data) + word if data else ""


STYLE: Final = (
    '.plane text{font:15px "Segoe UI",Roboto,"Helvetica Neue",Arial,"Liberation Sans",sans-serif;'
    "fill:var(--ink,#16262B);paint-order:stroke;stroke:var(--paper,#F7F4EC);stroke-width:4px;"
    "stroke-linejoin:round;font-variant-numeric:tabular-nums lining-nums}"
    ".plane .dim{fill:var(--ink-2,#4A5A5E)}.plane .em{font-weight:600}"
    ".plane .mid{text-anchor:middle}"
    ".plane .end{text-anchor:end}.plane .small{fill:var(--water,#0B5566)}"
    ".plane path{fill:none}.plane .grid{stroke:var(--rule,#D3CCBC)}"
    ".plane .axis{stroke:var(--ink,#16262B);stroke-width:2}"
    ".plane .same{stroke:var(--edge,#727C7A);stroke-dasharray:1.5 5;stroke-width:1.5}"
    ".plane .area{fill:var(--water-tint,#D3E5E6);opacity:.75}"
    ".plane .bracket{stroke:var(--ink,#16262B);stroke-width:4}"
    ".plane .raw{fill:var(--paper,#F7F4EC);fill-opacity:.6;"
    "stroke:var(--ink,#16262B);stroke-width:2.5}"
    ".plane .guessed{fill:var(--pencil-tint,#E7E0F1);fill-opacity:.5;stroke:var(--pencil,#5B3E8C);"
    "stroke-dasharray:5 4}"
    ".plane .run{stroke:var(--water,#0B5566);stroke-width:2.5}"
    ".plane .tick{stroke:var(--water,#0B5566);stroke-width:2}"
    ".plane .leader{stroke:var(--ink,#16262B)}"
    ".plane .ring{fill:var(--paper,#F7F4EC);stroke:var(--water,#0B5566);stroke-width:2.5}"
    ".plane .stretch{stroke:var(--water,#0B5566);stroke-width:16;stroke-linecap:round;opacity:.35}"
    ".plane .bead{fill:var(--water,#0B5566);stroke:var(--paper,#F7F4EC);stroke-width:2}"
    ".plane .flecks{stroke:var(--lime,#85837A);stroke-width:3;stroke-linecap:round}"
    "svg.plane:root{background:var(--paper,#F7F4EC)}"
    "@media (prefers-color-scheme:dark){svg.plane:root{--paper:#10191C;--ink:#ECE7DA;"
    "--ink-2:#AAB5B4;--rule:#2F3D41;--edge:#7C8A88;--water:#8CCBD6;--water-tint:#173A42;"
    "--lime:#8B918C;--pencil:#C2ACF0;--pencil-tint:#2E2743}}"
)
