"""The page Due: which lines need a visit, by when, and the chance of running out meanwhile."""

from __future__ import annotations

from datetime import date
from urllib.parse import urlencode

import msgspec
from markupsafe import Markup

from analytics.samples import DAY_MS
from dashboards.fleet.asked import Answer, Answers, Asked, Sheet
from dashboards.fleet.paging import Pages, pages_of
from dashboards.fleet.said import (
    by_words,
    chance_words,
    item_words,
    listed,
    load_words,
    reasons,
)
from dashboards.fleet.span_bar import Axis, Bar, axis_svg, bar_svg
from dashboards.fleet.standing import (
    AHEAD_DAYS,
    GLASSES,
    Ranked,
    Rounds,
    Stands,
    area_of,
    is_new,
    ranked,
    rounds_of,
    start_of,
    told,
    wants_a_visit,
)
from dashboards.fleet.table import Instant, csv_of
from dashboards.page import Given
from dashboards.signs import drops, glass
from firmware_bridge.fleet.records import line_rows, site_rows, visit_rows

A_PAGE = 50
DROPS = {"unacknowledged": "raised", "acknowledged": "acknowledged"}
"""How the drops show a state of ISA-18.2."""


class DueRow(msgspec.Struct, frozen=True, kw_only=True):
    """One line of the list."""

    href: str
    name: str
    line: str
    glass: Markup
    word: str
    by: str
    drops: Markup
    said: tuple[str, ...]
    bar: Markup
    chance: str
    bring: str
    planned: str


class DueView(msgspec.Struct, frozen=True, kw_only=True):
    """The whole page."""

    sentence: str
    bring: str
    others: str
    area: str
    region: str
    tag: str
    regions: tuple[str, ...]
    tags: tuple[str, ...]
    next_day: str
    every: int
    after: str
    axis: Markup
    rows: tuple[DueRow, ...]
    pages: Pages
    round_href: str
    csv_href: str


def page(asked: Asked) -> Answer:
    """The list as asked for."""
    area, rounds = area_of(asked.query), rounds_of(asked)
    found = ranked(asked, area, rounds)
    pages = pages_of(asked.query, "/due", len(found), A_PAGE)
    planned = visit_rows.planned(asked.connection, asked.when.today.isoformat())
    axis = _axis(asked, rounds)
    lines = line_rows.count_of(asked.connection, asked.sight, area)
    go = [one for one in found if wants_a_visit(asked, one)]
    new = sum(is_new(asked, one.row) for one in found)
    query = {"region": area.region, "tag": area.tag}
    chosen = {k: v for k, v in query.items() if v}
    when = asked.when
    view = DueView(
        sentence=_sentence(asked, go, rounds),
        bring=_bring(asked, go),
        others=_others(asked, lines - len(go) - new, new),
        area=", ".join(chosen.values()),
        region=area.region,
        tag=area.tag,
        regions=tuple(site_rows.regions(asked.connection, asked.sight)),
        tags=tuple(site_rows.all_tags(asked.connection, asked.sight)),
        next_day=rounds.next.isoformat(),
        every=rounds.every,
        after=when.brief(rounds.after),
        axis=axis_svg(axis),
        rows=tuple(
            _row(asked, one, axis, planned) for one in told(asked, found[pages.first : pages.last])
        ),
        pages=pages,
        round_href=f"/round?{urlencode(chosen | {'day': rounds.next.isoformat()})}",
        csv_href=f"/due.csv?{urlencode(dict(asked.query))}",
    )
    return Sheet(template="fleet/due.html", view=view, more={"what": view.area})


def _axis(asked: Asked, rounds: Rounds) -> Axis:
    when = asked.when
    last_ms = asked.now_ms + AHEAD_DAYS * DAY_MS
    days = [day for day in rounds.days if start_of(asked, day) < last_ms]
    return Axis(
        now_ms=asked.now_ms,
        until_ms=last_ms,
        rounds_ms=tuple(start_of(asked, day) for day in days),
        labels=tuple(when.brief(day) for day in days),
    )


def _sentence(asked: Asked, go: list[Ranked], rounds: Rounds) -> str:
    sites = len({one.row.site_no for one in go})
    if not sites:
        return asked.say("due.nobody", day=asked.when.long(rounds.after))
    key = f"due.go.{asked.reader.language.counted(sites)}"
    number = asked.reader.count_word(sites)
    return asked.opening(key, n=number, day=asked.when.long(rounds.next))


def _bring(asked: Asked, go: list[Ranked]) -> str:
    load = load_words(asked, [item for one in go for item in one.items])
    return asked.say("due.bring", what=listed(asked, load)) if load else ""


def _others(asked: Asked, right: int, new: int) -> str:
    """How many lines more there are, and why nobody goes there."""
    counts = {"others": right, "new": new}
    return " ".join(
        asked.say(f"due.{name}.{asked.reader.language.counted(number)}", n=number)
        for name, number in counts.items()
        if number > 0
    )


def _row(asked: Asked, one: Stands, axis: Axis, planned: dict[int, str]) -> DueRow:
    row = one.row
    sign = "unknown" if is_new(asked, row) else GLASSES[one.due.need]
    by, chance = by_words(asked, one), chance_words(asked, one)
    day = planned.get(row.site_no, "")
    return DueRow(
        href=f"/site/{row.site_no}/now?{urlencode({'line': row.line})}",
        name=row.called,
        line=row.line,
        glass=glass(sign, 42),
        word=asked.say(f"fleet.state.{sign}"),
        by=by,
        drops=drops(row.alarm, DROPS[row.alarms[0][2]]) if row.alarms else Markup(),
        said=reasons(asked, one),
        bar=bar_svg(_bar(asked, one, sign), axis),
        chance=chance,
        bring=listed(asked, (item_words(asked, item) for item in one.items)),
        planned=asked.say("due.planned", day=_day_words(asked, day)) if day else "",
    )


def _day_words(asked: Asked, day: str) -> str:
    return asked.when.brief_medium(date.fromisoformat(day))


def _bar(asked: Asked, one: Stands, sign: str) -> Bar:
    row, when = one.row, asked.when
    known = row.end_p50_ms
    past = known is not None and known <= asked.now_ms
    if known is None:
        said = note = asked.say("fleet.by.unknown")
    elif past:
        said = note = asked.say("due.ran-out", day=when.brief_medium(when.day(known)))
    else:
        first, last = when.day(row.end_p05_ms or known), when.day(row.end_p95_ms or known)
        said = asked.say(
            "due.bar",
            day=when.brief_medium(when.day(known)),
            days=when.brief_range(max(first, when.today), max(last, when.today)),
        )
        note = ""
    return Bar(
        p05_ms=row.end_p05_ms,
        p50_ms=known,
        p95_ms=row.end_p95_ms,
        sign="act" if past else sign if sign != "act" else "due",
        said=said,
        note=note,
    )


def table(asked: Asked) -> Given:
    """The whole list as CSV."""
    found = told(asked, ranked(asked, area_of(asked.query), rounds_of(asked)))
    head = (
        "site", "name", "line", "region", "need", "by", "end_p05", "end_p50", "end_p95",
        "chance_by_next_round", "chance_by_round_after", "remaining_L_p05", "remaining_L",
        "remaining_L_p95", "alarm", "doubts", "last_heard", "bring",
    )  # fmt: skip
    return csv_of("due.csv", head, (_cells(asked, one) for one in found))


def _cells(asked: Asked, one: Stands) -> list[object]:
    row = one.row
    chances = [*one.due.chances, None, None][:2]
    return [
        row.site, row.name, row.line, row.region, one.due.need.value, Instant(one.due.by_ms),
        Instant(row.end_p05_ms), Instant(row.end_p50_ms), Instant(row.end_p95_ms), *chances,
        row.remaining_l_p05, row.remaining_l_p50, row.remaining_l_p95, row.alarm,
        " ".join(row.doubts), Instant(row.heard_ms),
        listed(asked, (item_words(asked, item) for item in one.items)),
    ]  # fmt: skip


ANSWERS: Answers = {("GET", "/due"): page, ("GET", "/due.csv"): table}
AGAIN: dict[str, str] = {}
