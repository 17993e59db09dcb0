"""Jugs, rulers and drops, drawn once for phone and desk; text is never scaled."""

from __future__ import annotations

from collections.abc import Sequence

from markupsafe import Markup, escape

from dashboards.bed.svg import line, path, text

WIDTH = 358
JUG_EACH = 118


def _svg(kind: str, height: float, said: str, inner: str) -> Markup:
    return Markup(
        f'<svg class="{kind}" role="img" width="{WIDTH}" height="{height:.0f}" '
        f'viewBox="0 0 {WIDTH} {height:.0f}" aria-label="{escape(said)}">{inner}</svg>'
    )


def jugs(words: Sequence[tuple[str, str]], filling: int | None, mark: str, said: str) -> Markup:
    """Three jugs: full ones with two lines under each, the one that fills (its place) half full,
    the others empty. `mark` stands at the line they are filled to."""
    parts = []
    for n in range(3):
        x = n * JUG_EACH + 2
        top = 34 if n < len(words) else 62 if n == filling else None
        if top is not None:
            inset = 6 * (top - 34) / 76
            rim = f"M{x + 12 + inset:.1f} {top}H{x + 84 - inset:.1f}"
            parts.append(path("water-area", f"{rim}L{x + 78} 108H{x + 18}Z"))
        parts.append(path("jug", f"M{x + 4} 22L{x + 12} 32L{x + 18} 110H{x + 78}L{x + 86} 22"))
        parts.append(path("jug", f"M{x + 85} 38H{x + 98}Q{x + 102} 38 {x + 101} 44L{x + 98} 76Q"
                                 f"{x + 97} 82 {x + 90} 82H{x + 81}"))  # fmt: skip
        parts.append(line("jug-line", x + 10, 34, x + 88, 34))
        parts.append(text(x + 48, 28, mark, "em mid"))
        if n == filling and top is not None:
            parts.append(line("jug-level", x + 14, top, x + 83, top))
        if n < len(words):
            parts.append(text(x + 6, 132, words[n][0], "em"))
            parts.append(text(x + 6, 152, words[n][1], "dim"))
    return _svg("jugs", 160, said, "".join(parts))


def ruler(
    values: Sequence[float], low: float, high: float, ends: tuple[str, str], said: str
) -> Markup:
    """Beads on a line between two square brackets; a bead outside is a ring with a bar."""
    reach = max(high - low, 1e-9)
    first, last = min((*values, low)) - 0.25 * reach, max((*values, high)) + 0.25 * reach

    def x(value: float) -> float:
        return 12 + (WIDTH - 24) * (value - first) / (last - first)

    parts = [line("axis", 4, 34, WIDTH - 4, 34)]
    for value, way, word in ((low, 8, ends[0]), (high, -8, ends[1])):
        at = x(value)
        parts.append(path("bracket", f"M{at + way:.1f} 16H{at:.1f}V52H{at + way:.1f}"))
        parts.append(text(at, 70, word, "dim mid"))
    for value in values:
        at = x(value)
        if low <= value <= high:
            parts.append(f'<circle class="pass" cx="{at:.1f}" cy="34" r="7"/>')
        else:
            parts.append(f'<circle class="outside" cx="{at:.1f}" cy="34" r="7"/>')
            parts.append(path("outside", f"M{at:.1f} 29V39"))
    return _svg("check fit-ruler", 76, said, "".join(parts))


DROP = "M9 1C12.4 6.6 16 10.6 16 15.2A7 7 0 0 1 2 15.2C2 10.6 5.6 6.6 9 1Z"


def drops(count: int, said: str) -> Markup:
    """Drops in fives, ten a row, the last one open."""
    parts = []
    for n in range(count):
        row, column = divmod(n, 10)
        x, y = column * 32 + (16 if column >= 5 else 0), row * 34 + 4
        kind = "drop-open" if n == count - 1 else "drop-full"
        parts.append(
            f'<path class="{kind}" transform="translate({x} {y}) scale(1.25)" d="{DROP}"/>'
        )
    return _svg("fit-drops", max(1, -(-count // 10)) * 34 + 8, said, "".join(parts))
