"""The days in which a cartridge ends, as a bar over the rounds ahead.

Places are shares of the drawing's width, so that one drawing serves wall and phone; heights and
letters are never scaled.
"""

from __future__ import annotations

from collections.abc import Sequence

import msgspec
from markupsafe import Markup, escape

HEIGHT = 54
MIDDLE = 24
LEFT, WIDTH = 4.5, 94.0
"""Today, and the whole span, in per cent of the width."""


class Bar(msgspec.Struct, frozen=True, kw_only=True):
    """One line's bar: instants of its 5, 50 and 95 % points (None: not known), `sign` the state
    whose colour it has, `said` what it means in words, `note` a word in the drawing."""

    p05_ms: int | None
    p50_ms: int | None
    p95_ms: int | None
    sign: str
    said: str
    note: str = ""


class Axis(msgspec.Struct, frozen=True, kw_only=True):
    """From now to the last instant shown; rounds with what stands beside their uprights."""

    now_ms: int
    until_ms: int
    rounds_ms: tuple[int, ...]
    labels: tuple[str, ...]

    def place(self, at_ms: float) -> float:
        """Per cent of the width; what lies outside stands at the edge."""
        share = (at_ms - self.now_ms) / (self.until_ms - self.now_ms)
        return LEFT + WIDTH * min(max(share, -LEFT / WIDTH), 1.0)


def bar_svg(bar: Bar, axis: Axis) -> Markup:
    """The bar with the uprights of the rounds behind it."""
    inner = [_uprights(axis), f'<path class="level" d="M0 {MIDDLE}H4000"/>']
    if bar.p50_ms is None:
        inner.append(_box(LEFT, LEFT + WIDTH, "doubt"))
    elif bar.sign == "act":
        top, foot = MIDDLE - 17, MIDDLE + 17
        inner.append(f'<path class="run-out" d="M14 {top}V{foot}L0 {MIDDLE}Z"/>')
    else:
        inner += _range(bar, axis)
    if bar.note:
        note = escape(bar.note)
        inner.append(f'<text class="dim on-paper" x="{LEFT + 1}%" y="{HEIGHT - 3}">{note}</text>')
    return Markup(
        f'<svg class="span" role="img" aria-label="{escape(bar.said)}" height="{HEIGHT}">'
        f"{''.join(inner)}</svg>"
    )


def axis_svg(axis: Axis) -> Markup:
    """The head of the column: the days of the rounds."""
    labels = "".join(
        f'<text class="{"em" if n == 0 else "dim"}{" odd" if n % 2 else ""}" '
        f'x="{axis.place(at) + 0.8:.2f}%" y="20">{escape(label)}</text>'
        for n, (at, label) in enumerate(zip(axis.rounds_ms, axis.labels, strict=True))
    )
    return Markup(
        f'<svg class="span head" aria-hidden="true" height="28">{_uprights(axis)}{labels}</svg>'
    )


def _uprights(axis: Axis) -> str:
    places: Sequence[float] = [axis.place(at) for at in axis.rounds_ms]
    return "".join(
        f'<line class="round-day" x1="{x:.2f}%" x2="{x:.2f}%" y1="0" y2="{HEIGHT}"/>'
        for x in places
    )


def _range(bar: Bar, axis: Axis) -> list[str]:
    assert bar.p50_ms is not None
    parts = []
    if bar.p05_ms is not None and bar.p95_ms is not None and bar.p95_ms > bar.p05_ms:
        low, high = axis.place(bar.p05_ms), axis.place(bar.p95_ms)
        if low < LEFT + WIDTH:
            parts.append(_box(low, high, bar.sign))
    if bar.p50_ms <= axis.until_ms:
        x = axis.place(bar.p50_ms)
        parts.append(
            f'<line class="most {bar.sign}" x1="{x:.2f}%" x2="{x:.2f}%" '
            f'y1="{MIDDLE - 16}" y2="{MIDDLE + 16}"/>'
        )
    return parts


def _box(low: float, high: float, sign: str) -> str:
    return (
        f'<rect class="likely {sign}" x="{low:.2f}%" width="{max(high - low, 0.4):.2f}%" '
        f'y="{MIDDLE - 10}" height="20"/>'
    )
