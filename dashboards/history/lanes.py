"""Scales and paths of one lane of a chart, as SVG text in whole pixels."""

from __future__ import annotations

import math
from collections.abc import Sequence

import msgspec
import numpy as np

from analytics.samples import Floats, Ints
from dashboards.bed.svg import path, text


class Axis(msgspec.Struct, frozen=True, kw_only=True):
    """The time axis of a drawing: [from_ms, to_ms) over `width` pixels from 0."""

    from_ms: int
    to_ms: int
    width: int

    def x(self, at_ms: float) -> float:
        """Pixel of an instant, held inside the plot."""
        share = (at_ms - self.from_ms) / (self.to_ms - self.from_ms)
        return self.width * min(max(share, 0.0), 1.0)

    def xs(self, at_ms: Ints) -> Floats:
        """Pixels of instants."""
        share = (at_ms - self.from_ms) / (self.to_ms - self.from_ms)
        return self.width * np.clip(share, 0.0, 1.0)


class Scale(msgspec.Struct, frozen=True, kw_only=True):
    """Values between `low` and `high` over the pixels `bottom` up to `top`."""

    low: float
    high: float
    top: float
    bottom: float

    def y(self, value: float) -> float:
        """Pixel of a value, held inside the lane."""
        share = (value - self.low) / (self.high - self.low)
        return self.bottom - (self.bottom - self.top) * min(max(share, 0.0), 1.0)

    def ys(self, values: Floats) -> Floats:
        """Pixels of values; NaN stays NaN."""
        share = (values - self.low) / (self.high - self.low)
        return self.bottom - (self.bottom - self.top) * np.clip(share, 0.0, 1.0)


def round_step(width: float, most: int) -> float:
    """The smallest 1, 2 or 5 times a power of ten that goes at most `most` times into a width."""
    size = 10.0 ** math.floor(math.log10(max(width / most, 1e-12)))
    return next(size * f for f in (1, 2, 5, 10) if size * f * most >= width * (1 - 1e-9))


def levels(low: float, high: float, most: int = 2) -> list[float]:
    """Round values inside a range, at most `most` of them."""
    if not (math.isfinite(low) and math.isfinite(high)) or high <= low:
        return []
    step = round_step(high - low, most)
    first = math.ceil(low / step - 1e-9)
    last = math.floor(high / step + 1e-9)
    return [n * step for n in range(first, last + 1)][:most]


def room_for(values: Sequence[Floats], least: float, share: float = 0.12) -> tuple[float, float]:
    """The range that holds all finite values with some room, at least `least` wide."""
    there = [v[np.isfinite(v)] for v in values]
    joined = np.concatenate(there) if there else np.empty(0)
    if not len(joined):
        return 0.0, least
    low, high = float(joined.min()), float(joined.max())
    spare = max((least - (high - low)) / 2, share * (high - low))
    return low - spare, high + spare


def runs(there: np.ndarray) -> list[tuple[int, int]]:
    """Stretches [start, stop) in which all is there."""
    padded = np.concatenate(([False], there, [False])).astype(np.int8)
    steps = np.diff(padded)
    starts, stops = np.flatnonzero(steps == 1), np.flatnonzero(steps == -1)
    return list(zip(starts.tolist(), stops.tolist(), strict=True))


def _relative(xs: Floats, ys: Floats) -> str:
    """Points as 'Mx y' and steps from one to the next in whole pixels, without drift."""
    whole = np.stack((np.rint(xs), np.rint(ys)), axis=1).astype(int)
    kept = np.concatenate(([True], np.any(np.diff(whole, axis=0) != 0, axis=1)))
    whole = whole[kept]
    steps = np.diff(whole, axis=0)
    moved = "l" + " ".join(f"{dx} {dy}" for dx, dy in steps.tolist()) if len(steps) else "h1"
    return f"M{whole[0, 0]} {whole[0, 1]}{moved}".replace(" -", "-")


def line_path(kind: str, xs: Floats, ys: Floats) -> str:
    """A line that stops where there is no value."""
    data = "".join(_relative(xs[a:b], ys[a:b]) for a, b in runs(np.isfinite(ys)))
    return path(kind, data) if data else ""


def area_path(kind: str, xs: Floats, lows: Floats, highs: Floats) -> str:
    """The area between two lines, one shape a stretch."""
    shapes = []
    for a, b in runs(np.isfinite(lows) & np.isfinite(highs)):
        there = xs[a:b] if b - a > 1 else np.array([xs[a] - 1, xs[a] + 1])
        up = highs[a:b] if b - a > 1 else np.repeat(highs[a:b], 2)
        down = lows[a:b] if b - a > 1 else np.repeat(lows[a:b], 2)
        shapes.append(
            _relative(np.concatenate((there, there[::-1])), np.concatenate((up, down[::-1]))) + "Z"
        )
    return path(kind, "".join(shapes)) if shapes else ""


def dots(kind: str, xs: Floats, ys: Floats) -> str:
    """One dot a value, as round caps of strokes without length."""
    there = np.isfinite(ys)
    points = zip(np.rint(xs[there]).tolist(), np.rint(ys[there]).tolist(), strict=True)
    data = "".join(f"M{x:.0f} {y:.0f}h0" for x, y in points)
    return path(kind, data) if data else ""


def bars(kind: str, xs: Floats, heights: Floats, bottom: float) -> str:
    """Upright strokes from the ground."""
    there = np.isfinite(heights) & (heights > 0.4)
    pairs = zip(xs[there].tolist(), heights[there].tolist(), strict=True)
    data = "".join(f"M{x:.1f} {bottom:.0f}v-{h:.0f}" for x, h in pairs if round(h))
    return path(kind, data.replace(".0 ", " ")) if data else ""


def level_line(y: float, width: int, words: str) -> str:
    """A light level with its value at the left."""
    return path("level", f"M0 {y:.0f}H{width}") + text(0, y - 3, words, "dim on-paper")
