"""The page Parts: which cartridges the next weeks take, by size, with ranges."""

from __future__ import annotations

from urllib.parse import urlencode

import msgspec

from analytics.fleet.parts import PartsNeeded, Wanted, days_ahead, needs
from analytics.samples import DAY_MS
from dashboards.fleet.asked import Answer, Answers, Asked, Sheet
from dashboards.fleet.said import cartridge_words
from dashboards.fleet.standing import area_of
from dashboards.fleet.table import csv_of
from dashboards.fleet.within import Link
from dashboards.page import Given
from dashboards.phrases.numbers import EN_DASH
from firmware_bridge.fleet.records import line_rows, site_rows
from firmware_bridge.fleet.records.line_rows import LineRow

WEEKS = (1, 2, 4, 6, 8, 12, 26)
USUAL = 6


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
    wanted = _wanted(asked)
    found = needs(wanted, 7.0 * weeks)
    whole = needs([msgspec.structs.replace(w, medium="", size="") for w in wanted], 7.0 * weeks)
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
        for one in _most_first(needs(_wanted(asked), 7.0 * weeks))
    )  # fmt: skip
    return csv_of("parts.csv", head, rows)


def weeks_of(asked: Asked) -> int:
    """How many weeks are asked for."""
    text = asked.query.get("weeks", "")
    sound = text.isascii() and text.isdecimal() and len(text) < 4
    return min(max(int(text), 1), 52) if sound else USUAL


def _wanted(asked: Asked) -> list[Wanted]:
    rows = line_rows.every(asked.connection, asked.sight, area_of(asked.query))
    return [wanted_by(row, asked.now_ms) for row in rows]


def wanted_by(row: LineRow, now_ms: int) -> Wanted:
    """What a line will want, as far as its end is known."""
    ahead, life_days = None, None
    if row.end_p05_ms is not None and row.end_p50_ms is not None and row.end_p95_ms is not None:
        ahead = days_ahead(now_ms, row.end_p05_ms, row.end_p50_ms, row.end_p95_ms)
        if row.fitted_ms is not None and row.end_p50_ms > row.fitted_ms:
            life_days = (row.end_p50_ms - row.fitted_ms) / DAY_MS
    return Wanted(medium=row.medium, size=row.size, ahead=ahead, life_days=life_days)


def _most_first(found: tuple[PartsNeeded, ...]) -> list[PartsNeeded]:
    return sorted(found, key=lambda one: (-one.mean, one.medium, one.size))


def _sentence(asked: Asked, whole: tuple[PartsNeeded, ...], weeks: int) -> str:
    words = asked.say(f"parts.in-weeks.{asked.reader.language.counted(weeks)}",
                      n=asked.reader.count_word(weeks))  # fmt: skip
    if not whole:
        return asked.say("parts.none", weeks=words)
    count = round(whole[0].count.p50)
    key = f"parts.sentence.{asked.reader.language.counted(count)}"
    return asked.say(key, n=count, range=_range(whole[0]), weeks=words)


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
