"""Writes what was measured into the page on running a fleet: python -m tests.fleet_load.sizes JSON

JSON is what `python -m tests.bench fleet --json` printed.
"""

from __future__ import annotations

import json
import re
import sys
from pathlib import Path

import msgspec

PAGE = Path(__file__).parents[2] / "firmware_bridge" / "fleet" / "DEPLOYMENT.md"
BEGIN, END = "<!-- sizes -->", "<!-- /sizes -->"
DIGITS = 3


class Row(msgspec.Struct, frozen=True):
    """A line of the table: what, which figure of the benchmark, its unit, what was aimed at."""

    what: str
    figure: str
    unit: str
    aim: str = ""


ROWS = (
    Row("sites, a connection each", "steady: sites", ""),
    Row("messages a second, each of 6 readings", "steady: messages a second", ""),
    Row("ingest", "steady: ingest, % of one core", "% of a core", "under 10"),
    Row("broker", "steady: broker, % of one core", "% of a core"),
    Row("visible after, median", "steady: visible after, median, s", "s"),
    Row("visible after, 99 in 100", "steady: visible after, 99 %, s", "s", "under 2"),
    Row("all of them back after a cut", "storm: all connected again after, s", "s"),
    Row("and all rows safe", "storm: all rows safe after, s", "s", "under 60"),
    Row("readings a second, 60 a message", "ceiling: rows a second, durable", "", "100 000"),
    Row("the same into PostgreSQL", "ceiling on PostgreSQL: rows a second, durable", ""),
    Row("messages a second, a reading each", "single: messages a second, durable", "", "10 000"),
    Row("readings a second, two workers", "shared: rows a second, durable", ""),
    Row("backlog of 100 sites, rows a second", "flood: rows a second, durable", ""),
    Row("worker killed: rows safe again after", "kills: worker: rows safe again after, s", "s"),
    Row("broker killed", "kills: broker: rows safe again after, s", "s"),
    Row("database killed", "kills: database: rows safe again after, s", "s"),
    Row("sites whose rows differ afterwards", "kills: sites with a difference in the records", ""),
    Row("pages of 10 000 sites, 95 in 100", "pages: all pages, 95 %, ms", "ms", "under 300"),
    Row("a year of 1000 sites, rows", "year: rows", ""),
    Row("written in", "year: written in, s", "s"),
    Row("its size", "year: size, MB", "MB"),
    Row(
        "a year of estimates of one site, asked for",
        "year: a year of estimates of a site, ms",
        "ms",
    ),
    Row("pages over that year, 95 in 100", "year: all pages, 95 %, ms", "ms", "under 300"),
)


def table(figures: dict[str, float], machine: dict[str, str]) -> str:
    """The table of what was measured, and on what."""
    rows = [
        f"| {row.what} | {shown(figures[row.figure])} {row.unit} | {row.aim} |"
        for row in ROWS
        if row.figure in figures
    ]
    where = (
        f"Measured by `python -m tests.bench fleet`, everything on one machine with"
        f" {machine['cores']} cores, the load generator too (load average before:"
        f" {machine['load']}); {machine['system']}, Python {machine['python']}."
    )
    return "\n".join([where, "", "| what | measured | aimed at |", "|---|---|---|", *rows])


def shown(value: float) -> str:
    """Three figures, thousands apart."""
    if value == 0.0:
        return "0"
    if abs(value) >= 100.0:
        return f"{float(f'{value:.{DIGITS}g}'):,.0f}".replace(",", " ")
    return f"{value:.{DIGITS}g}"


def filled(page: str, text: str) -> str:
    """The page with its table of sizes put in, in place of an older one."""
    page = re.sub(f"{BEGIN}.*?{END}", BEGIN, page, flags=re.DOTALL)
    return page.replace(BEGIN, f"{BEGIN}\n\n{text}\n\n{END}", 1)


def main() -> None:
    """Read the figures, write the page."""
    told = json.loads(Path(sys.argv[1]).read_text())
    text = table(told["figures"]["fleet"], told["machine"])
    PAGE.write_text(filled(PAGE.read_text(), text))


if __name__ == "__main__":
    main()
