"""The page Parts: which cartridges the next weeks take, by size, with ranges."""

from __future__ import annotations

from collections import Counter
from urllib.parse import urlencode

import msgspec

from analytics.fleet.chances import Z95
from analytics.fleet.parts import PartsNeeded, Wanted, days_ahead, needs_and_whole
from analytics.samples import DAY_MS
from dashboards.fleet.asked import Answer, Answers, Asked, Sheet
from dashboards.fleet.said import cartridge_words
from dashboards.fleet.standing import area_of
from dashboards.fleet.table import csv_of
from dashboards.fleet.within import Link
from dashboards.page import Given
from dashboards.phrases.numbers import EN_DASH
from firmware_bridge.fleet.records import site_rows, stand_rows
from firmware_bridge.fleet.records.line_rows import LineRow
from firmware_bridge.fleet.records.sight import Connection
from firmware_bridge.fleet.records.stand_rows import LineStand

WEEKS = (1, 2, 4, 6, 8, 12, 26)
USUAL = 6
KEPT_MS, STALE_MS = 60_000, 1_800_000
FASTEST = 1.3
"""The fastest pace of use that `analytics.fleet.parts` weighs, over the usual one."""
SURELY = 4.9
"""A normal distribution has less than a millionth beyond so many standard deviations."""


class Part(msgspec.Struct, frozen=True, kw_only=True):
    """One size."""

    words: str
    likely: str
    range_text: str
    lines: int
    unknown: int


class PartsView(msgspec.Struct, frozen=True, kw_only=True):
    """The whole page."""

    sentence: str
    unknown: str
    weeks: tuple[Link, ...]
    region: str
    tag: str
    asked_weeks: int
    regions: tuple[str, ...]
    tags: tuple[str, ...]
    rows: tuple[Part, ...]
    csv_href: str


def page(asked: Asked) -> Answer:
    """The sizes as asked for."""
    weeks, area = weeks_of(asked), area_of(asked.query)
    found, whole = _needed(asked, weeks)
    unknown = sum(one.unknown for one in found)
    kept = {k: v for k, v in asked.query.items() if k != "weeks"}
    view = PartsView(
        sentence=_sentence(asked, whole, weeks),
        unknown=asked.say(f"parts.unknown.{asked.reader.language.counted(unknown)}", n=unknown)
        if unknown
        else "",
        weeks=tuple(
            Link(
                href=f"/parts?{urlencode(kept | {'weeks': str(n)})}",
                words=asked.say(f"parts.weeks.{asked.reader.language.counted(n)}", n=n),
                here=n == weeks,
            )
            for n in WEEKS
        ),
        region=area.region,
        tag=area.tag,
        asked_weeks=weeks,
        regions=tuple(site_rows.regions(asked.connection, asked.sight)),
        tags=tuple(site_rows.all_tags(asked.connection, asked.sight)),
        rows=tuple(_part(asked, one) for one in _most_first(found)),
        csv_href=f"/parts.csv?{urlencode(dict(asked.query))}",
    )
    return Sheet(template="fleet/parts.html", view=view)


def table(asked: Asked) -> Given:
    """The same as CSV."""
    weeks = weeks_of(asked)
    head = ("medium", "size", "weeks", "likely", "p05", "p95", "mean", "lines", "lines_not_known")
    rows = (
        (one.medium, one.size, weeks, round(one.count.p50), round(one.count.p05),
         round(one.count.p95), one.mean, one.lines, one.unknown)
        for one in _most_first(_needed(asked, weeks)[0])
    )  # fmt: skip
    return csv_of("parts.csv", head, rows)


def weeks_of(asked: Asked) -> int:
    """How many weeks are asked for."""
    text = asked.query.get("weeks", "")
    sound = text.isascii() and text.isdecimal() and len(text) < 4
    return min(max(int(text), 1), 52) if sound else USUAL


Needed = tuple[PartsNeeded, ...]


def _needed(asked: Asked, weeks: int) -> tuple[Needed, PartsNeeded]:
    """By size, and of all sizes together. Kept for minutes: weeks ahead nothing changes within."""
    area = area_of(asked.query)

    def make(connection: Connection) -> tuple[Needed, PartsNeeded]:
        rows = stand_rows.every(connection, asked.sight, area)
        return _needs([wanted_by(row, asked.now_ms) for row in rows], 7.0 * weeks)

    return asked.kept.get(("parts", asked.sight, area, weeks), make, KEPT_MS, STALE_MS)


def _needs(wanted: list[Wanted], days: float) -> tuple[Needed, PartsNeeded]:
    """The needs, lines that surely take nothing counted but not weighed: most of a large fleet."""
    counts = Counter((one.medium, one.size) for one in wanted)
    weighed: dict[tuple[str, str], list[Wanted]] = {}
    for one in wanted:
        group = weighed.setdefault((one.medium, one.size), [])
        if not group or not _is_far(one, days):
            group.append(one)
    found, whole = needs_and_whole([one for group in weighed.values() for one in group], days)
    every = tuple(msgspec.structs.replace(one, lines=counts[one.medium, one.size]) for one in found)
    return every, msgspec.structs.replace(whole, lines=len(wanted))


def _is_far(one: Wanted, days: float) -> bool:
    """Whether the chance of an end within the span is below one in a million, at the fastest pace
    that is weighed."""
    if one.ahead is None:
        return False
    width = max(one.ahead.p50 - one.ahead.p05, 1e-9)
    return Z95 * (one.ahead.p50 - FASTEST * days) / width > SURELY


def wanted_by(row: LineRow | LineStand, now_ms: int) -> Wanted:
    """What a line will want, as far as its end is known."""
    ahead, life_days = None, None
    if row.end_p05_ms is not None and row.end_p50_ms is not None and row.end_p95_ms is not None:
        ahead = days_ahead(now_ms, row.end_p05_ms, row.end_p50_ms, row.end_p95_ms)
        if row.fitted_ms is not None and row.end_p50_ms > row.fitted_ms:
            life_days = (row.end_p50_ms - row.fitted_ms) / DAY_MS
    return Wanted(medium=row.medium, size=row.size, ahead=ahead, life_days=life_days)


def _most_first(found: tuple[PartsNeeded, ...]) -> list[PartsNeeded]:
    return sorted(found, key=lambda one: (-one.mean, one.medium, one.size))


def _sentence(asked: Asked, whole: PartsNeeded, weeks: int) -> str:
    words = asked.say(f"parts.in-weeks.{asked.reader.language.counted(weeks)}",
                      n=asked.reader.count_word(weeks))  # fmt: skip
    if not whole.lines:
        return asked.say("parts.none", weeks=words)
    count = round(whole.count.p50)
    key = f"parts.sentence.{asked.reader.language.counted(count)}"
    return asked.say(key, n=count, range=_range(whole), weeks=words)


def _part(asked: Asked, one: PartsNeeded) -> Part:
    return Part(
        words=cartridge_words(asked, one.medium, one.size),
        likely=str(round(one.count.p50)),
        range_text=_range(one),
        lines=one.lines,
        unknown=one.unknown,
    )


def _range(one: PartsNeeded) -> str:
    return f"{round(one.count.p05)}{EN_DASH}{round(one.count.p95)}"


ANSWERS: Answers = {("GET", "/parts"): page, ("GET", "/parts.csv"): table}
AGAIN: dict[str, str] = {}
