"""How honest the ranges are, drawn: where the truth lay in them, a small panel a group (SVG)."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

BINS = 10
WIDE, HIGH, GAP, TOP = 200, 120, 24, 28
ACROSS = 4


def tenths_pct(values: Sequence[float]) -> tuple[float, ...]:
    """Share of values (0-1) in each tenth, in %; empty where there are none."""
    if not len(values):
        return ()
    counts, _ = np.histogram(np.clip(values, 0.0, 1.0), bins=BINS, range=(0.0, 1.0))
    return tuple((100.0 * counts / counts.sum()).tolist())


def off_flat(values: Sequence[float]) -> float | None:
    """Greatest distance of the values' distribution from a flat one (Kolmogorov-Smirnov)."""
    if not len(values):
        return None
    found, n = np.sort(np.clip(values, 0.0, 1.0)), len(values)
    above = np.arange(1, n + 1) / n - found
    return float(max(above.max(), (found - np.arange(n) / n).max()))


def calibration_svg(pooled: Mapping[str, Sequence[float]]) -> str:
    """Histograms of the place of truth in the range (0-1), with the line of an honest range."""
    groups = [(name, values) for name, values in pooled.items() if len(values)]
    down = -(-len(groups) // ACROSS)
    wide = ACROSS * (WIDE + GAP) + GAP
    high = down * (HIGH + GAP + TOP) + GAP
    panels = "".join(_panel(i, name, values) for i, (name, values) in enumerate(groups))
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {wide} {high}" '
        f'width="{wide}" height="{high}" font-family="sans-serif" font-size="12">'
        f"<title>Where the truth lay in the 5-95 % range</title>{panels}</svg>\n"
    )


def _panel(place: int, name: str, values: Sequence[float]) -> str:
    x = GAP + place % ACROSS * (WIDE + GAP)
    y = GAP + place // ACROSS * (HIGH + GAP + TOP) + TOP
    shares = np.array(tenths_pct(values)) / 100.0
    top = max(float(shares.max()), 2.0 / BINS)
    bars = "".join(_bar(x, y, i, float(s) / top) for i, s in enumerate(shares))
    level = y + HIGH * (1.0 - 1.0 / BINS / top)
    return (
        f'<text x="{x}" y="{y - 8}">{name} ({len(values)} days)</text>{bars}'
        f'<line x1="{x}" x2="{x + WIDE}" y1="{level:.1f}" y2="{level:.1f}" stroke="#333" '
        f'stroke-dasharray="4 3"/><line x1="{x}" x2="{x + WIDE}" y1="{y + HIGH}" '
        f'y2="{y + HIGH}" stroke="#333"/>'
    )


def _bar(x: int, y: int, number: int, share: float) -> str:
    width = WIDE / BINS
    tall = HIGH * share
    return (
        f'<rect x="{x + number * width + 1:.1f}" y="{y + HIGH - tall:.1f}" '
        f'width="{width - 2:.1f}" height="{tall:.1f}" fill="#4a7a8c"/>'
    )
