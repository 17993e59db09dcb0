"""Small pieces of SVG text."""

from __future__ import annotations

import math

from markupsafe import escape


def _n(value: float) -> str:
    """A coordinate with one decimal at most."""
    return f"{value:.1f}".removesuffix(".0")


def text(
    x: float, y: float, content: str, kind: str = "", *, after: str = "", room: float = math.inf
) -> str:
    """A line of text; `after` follows in a lighter weight. Words too long for their `room` are set
    narrower: a language may need more letters than the drawing was made for."""
    more = f' <tspan class="dim">{escape(after)}</tspan>' if after else ""
    mark = f' class="{kind}"' if kind else ""
    if 1.03 * letters_width(content) > room:
        mark += f' textLength="{_n(room)}" lengthAdjust="spacingAndGlyphs"'
    return f'<text x="{_n(x)}" y="{_n(y)}"{mark}>{escape(content)}{more}</text>'


def rect(kind: str, x: float, y: float, width: float, height: float) -> str:
    """A rectangle of a class."""
    return (
        f'<rect class="{kind}" x="{_n(x)}" y="{_n(y)}" width="{_n(width)}" height="{_n(height)}"/>'
    )


def path(kind: str, data: str) -> str:
    """A path of a class."""
    return f'<path class="{kind}" d="{data}"/>'


def line(kind: str, x1: float, y1: float, x2: float, y2: float) -> str:
    """A straight line of a class."""
    return path(kind, f"M{_n(x1)} {_n(y1)}L{_n(x2)} {_n(y2)}")


def text_width(content: str, size: float = 15.0) -> float:
    """About how wide a text runs in the pages' sans-serif, in pixels."""
    return 0.53 * size * len(content)


_WIDE_LETTERS = (
    (0.22, "ijl'|"),
    (0.28, "ft.,:;!/[] \u202f\u00a0"),
    (0.34, "r()-\u201e\u201c"),
    (0.5, "cksvxyzJ"),
    (0.72, "ABCDEGHKNOPQRSUVXYw\u00c4\u00d6\u00dc"),
    (0.86, "mMW%"),
)
"""Advance of the letters that are not as wide as a digit, in parts of the size, to the hundredth
(metrics of the sans-serif that common Linux desktops have)."""


def letters_width(content: str, size: float = 15.0) -> float:
    """How wide a text runs, letter by letter; `text_width` goes by their number alone."""
    wide = {letter: share for share, letters in _WIDE_LETTERS for letter in letters}
    return size * sum(wide.get(letter, 0.56) for letter in content)
