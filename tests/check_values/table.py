"""The table of check values with their margins, as Markdown for the documents."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import groupby

from tests.check_values import (
    columns,
    conductivities,
    saturations,
    stuyfzand,
    temperatures,
    treatments,
    units,
)
from tests.check_values.checks import Check

SECTIONS = {
    "Units": units,
    "Temperature": temperatures,
    "Conductivity": conductivities,
    "Real waters": stuyfzand,
    "Carbonate and scale": saturations,
    "Exchange column": columns,
    "Sizing": treatments,
}
HEAD = (
    "| what | values | nearest to its limit | expected | ours | tolerance | margin | source "
    "| known |"
)
RULE = "|---|---|---|---|---|---|---|---|---|"


def every_check() -> list[Check]:
    """All check values, section by section."""
    return [check for section in SECTIONS.values() for check in section.rows()]


def markdown() -> str:
    """One line for each group of values: how many, and the one that comes nearest to its limit.

    `margin` is the unused share of that value's tolerance.
    """
    lines = []
    for title, section in SECTIONS.items():
        lines += [f"**{title}**", "", HEAD, RULE, *_lines(section.rows()), ""]
    return "\n".join(lines)


def _lines(checks: Iterable[Check]) -> list[str]:
    ordered = sorted(checks, key=lambda check: check.group)
    return [_line(group, list(same)) for group, same in groupby(ordered, lambda c: c.group)]


def _line(group: str, checks: list[Check]) -> str:
    worst = max(checks, key=Check.used)
    tolerance = f"{100 * worst.tolerance:.3g} %" if worst.relative else f"{worst.tolerance:.3g}"
    cells = (
        group,
        str(len(checks)),
        worst.what,
        f"{worst.expected:.6g}",
        f"{worst.ours():.6g}",
        tolerance,
        f"{100 * (1 - worst.used()):.0f} %",
        worst.source,
        worst.kind.value,
    )
    return "| " + " | ".join(cells) + " |"
