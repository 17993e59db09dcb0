"""Rows that several papers share."""

from __future__ import annotations

from importlib.metadata import version

import msgspec

from analytics.quantities import CAPACITY
from analytics.samples import AnyEvent
from analytics.setup import LineSetup, SiteSetup
from dashboards.acts.said import facts_of
from dashboards.history.chart import PAPER, chart
from dashboards.history.marks import days_of
from dashboards.history.record import Record
from dashboards.paper.drawings import alone
from dashboards.paper.sheet import Block, Drawing, Facts, Row, Sheet, Table, Words
from dashboards.phrases.alarm_words import alarm_words
from dashboards.phrases.reader import Reader
from dashboards.phrases.times import When
from firmware_bridge.store.events import kind_of

MOST_ROWS = 60
"""A table of a paper has no more; the rest is in the CSV."""
CHART_MM = 150.0


class Desk(msgspec.Struct, frozen=True, kw_only=True):
    """Who reads, on which day, and of which line of which site."""

    setup: SiteSetup
    line: LineSetup
    reader: Reader
    when: When
    paper: str = "a4"
    address: str = ""
    """Where the pages are, for a phone; empty where only this machine sees them."""


def sheet_of(desk: Desk, kind: str, sentence: str, rows: tuple[Row, ...]) -> Sheet:
    """A sheet with this site's head and foot."""
    say = desk.reader.say
    made = say("paper.made", moment=desk.when.long(desk.when.today))
    return Sheet(
        language=desk.reader.language.code,
        kind=say(kind),
        site=desk.setup.name,
        sentence=sentence,
        foot=say("paper.foot"),
        program=f"{say('paper.program', version=version('lastlitre'))}, {made}",
        page_words=desk.reader.language.texts["paper.page"],
        paper=desk.paper,
        rows=rows,
    )


def place_row(desk: Desk) -> Row:
    """Place, service company, line, machines, medium, capacity."""
    say, line = desk.reader.say, desk.line
    named = f"{desk.setup.name}, {desk.setup.what}" if desk.setup.what else desk.setup.name
    rows = [
        (say("paper.place"), named),
        (say("paper.service"), desk.setup.service),
        (say("paper.line"), line.line_id),
        (say("paper.machines"), ", ".join(line.machines)),
        (say("paper.medium"), say(f"medium.{line.medium}")),
    ]
    if line.capacity_mmol is not None:
        rows.append((say("paper.capacity"), CAPACITY.shown(line.capacity_mmol, "dH*L")))
    return Row(title=say("paper.row.site"), blocks=(Facts(rows=tuple(r for r in rows if r[1])),))


def course_row(desk: Desk, record: Record, days: str) -> Row:
    """The History of the span, as on the page."""
    said = desk.reader.say("paper.course.said", days=days)
    svg = alone(str(chart(record, desk.reader, desk.when, PAPER, said)))
    return Row(
        title=desk.reader.say("paper.row.course"),
        note=days,
        blocks=(
            Drawing(svg=svg, said=desk.reader.say("history.said", days=days), width_mm=CHART_MM),
            Words(text=desk.reader.say("history.key"), weight="small"),
        ),
    )


def alarms_row(desk: Desk, record: Record) -> Row:
    """Alarms of the span, with what they said."""
    say = desk.reader.say
    rows = tuple(
        (
            days_of(alarm, desk.reader, desk.when),
            alarm_words(alarm.raised, desk.reader).told,
            say(f"priority.{alarm.priority}"),
        )
        for alarm in record.alarms
    )
    head = (say("paper.head.date"), say("paper.head.what"), say("paper.head.priority"))
    return _table_row(desk, "paper.row.alarms", head, rows, "paper.no-alarms", wide=1)


def log_row(desk: Desk, events: list[AnyEvent]) -> Row:
    """Everything people entered, with who and what."""
    say = desk.reader.say
    rows = tuple(
        (
            desk.when.brief(desk.when.day(event.at_ms)),
            say(f"act.{kind_of(event)}"),
            _figures(desk, event),
            event.who,
        )
        for event in events
    )
    head = (say("paper.head.date"), say("paper.head.what"), say("paper.head.figures"),
            say("paper.head.who"))  # fmt: skip
    return _table_row(desk, "paper.row.log", head, rows, "paper.no-log", wide=2)


def _figures(desk: Desk, event: AnyEvent) -> str:
    pairs = facts_of(event, desk.reader, desk.when)
    colon, semicolon = desk.reader.say("page.colon"), desk.reader.say("page.semicolon")
    facts = f"{semicolon} ".join(f"{_bare(name)}{colon} {value}" for name, value in pairs)
    return f"{facts}. {event.note}".strip(". ") if event.note else facts


def _bare(name: str) -> str:
    """A form's label without what it asks and explains."""
    return name.split(" (")[0].split(", ")[0].rstrip("?")


def gaps_row(desk: Desk, record: Record) -> Row:
    """Times without word."""
    say, when = desk.reader.say, desk.when
    rows = tuple(
        (
            f"{when.brief(when.day(gap.from_ms))}, {when.clock(gap.from_ms)}",
            f"{when.brief(when.day(gap.until_ms))}, {when.clock(gap.until_ms)}",
            say(f"history.gap.{gap.what}"),
        )
        for gap in record.gaps
    )
    head = (say("paper.head.from"), say("paper.head.until"), say("paper.head.what"))
    return _table_row(desk, "paper.row.gaps", head, rows, "paper.no-gaps", wide=2)


def _table_row(
    desk: Desk,
    title: str,
    head: tuple[str, ...],
    rows: tuple[tuple[str, ...], ...],
    nothing: str,
    wide: int,
) -> Row:
    say = desk.reader.say
    if not rows:
        blocks: tuple[Block, ...] = (Words(text=say(nothing)),)
    else:
        blocks = (Table(head=head, rows=rows[:MOST_ROWS], wide=wide),)
    if len(rows) > MOST_ROWS:
        blocks += (Words(text=say("paper.more", n=len(rows) - MOST_ROWS), weight="small"),)
    return Row(title=say(title), blocks=blocks)


def care_row(desk: Desk) -> Row:
    """The cautions of this medium."""
    keys = (f"care.{desk.line.medium}", "care.any")
    words = tuple(
        Words(text=desk.reader.say(key), weight="small") for key in keys if desk.reader.has(key)
    )
    return Row(title=desk.reader.say("paper.row.care"), blocks=words)
