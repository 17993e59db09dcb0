"""The page History: conductivity, hardness, temperature, flow and litres on one time axis."""

from __future__ import annotations

from urllib.parse import urlencode

import msgspec

from dashboards.history.chart import PHONE, WIDE, chart
from dashboards.history.readout import lines_at, readout
from dashboards.history.record import Record
from dashboards.history.span import NAMED, Span, asked_for, moves, query_of
from dashboards.history.story import story
from dashboards.history.table import table
from dashboards.line_view import Sizes
from dashboards.page import Asked, Download, Given, Page, worst_first
from dashboards.pages.now import demo_note
from dashboards.sources import LineFacts


class Choice(msgspec.Struct, frozen=True, kw_only=True):
    """A link with its words."""

    href: str
    words: str
    here: bool = False
    name: str = ""


class HistoryView(msgspec.Struct, frozen=True, kw_only=True):
    """The whole page; `chart` is None where the site has no line."""

    site: str
    what: str
    service: str
    demo: str
    line_id: str
    title: str
    days: str
    story: str
    misread: str
    lines: tuple[Choice, ...]
    spans: tuple[Choice, ...]
    moves: tuple[Choice, ...]
    csv: str
    link: str
    figures: str
    chart: Sizes | None
    said: str
    bins: int
    here: int
    at_mark: tuple[str, ...]
    first: str
    last: str


def answer(asked: Asked) -> HistoryView:
    """The page as asked for."""
    facts, reader, when = asked.facts, asked.reader, asked.when
    line = _line(asked)
    if line is None:
        return _nothing(asked)
    record = _record(asked, line)
    span = record.span
    name = line.setup.line_id
    days = when.days_range(when.day(span.from_ms), when.day(span.to_ms - 1))
    title = reader.say(f"history.span.{span.name}") if span.name else reader.say("history.title")
    said = reader.say("history.said", days=days)
    fixed = query_of(span, facts.setup.local_time) | {"line": name}
    shown = {"line": name} | ({"span": span.name} if span.name else fixed)
    return HistoryView(
        site=facts.setup.name,
        what=facts.setup.what,
        service=facts.setup.service,
        demo=demo_note(facts, reader, when),
        line_id=name,
        title=title,
        days=days,
        story=story(record, reader, when),
        misread=reader.say("history.misread", what=span.misread) if span.misread else "",
        lines=_lines(asked, name, span),
        spans=tuple(_named(asked, n, name, span) for n in NAMED),
        moves=_moves(asked, name, span),
        csv=_address(asked, "/history/table.csv", fixed),
        link=_address(asked, "/history", fixed),
        figures=_address(asked, "/history/figures.json", shown),
        chart=Sizes(
            wide=chart(record, reader, when, WIDE, said),
            phone=chart(record, reader, when, PHONE, said),
        ),
        said=said,
        bins=len(record.bins),
        here=record.last_bin,
        at_mark=tuple(lines_at(record, reader, when, record.last_bin)),
        first=fixed["from"],
        last=fixed["to"],
    )


def _line(asked: Asked) -> LineFacts | None:
    ordered = [line for _, line in worst_first(asked.facts)]
    wanted = asked.query.get("line", "")
    named = (line for line in ordered if line.setup.line_id == wanted)
    return next(named, ordered[0] if ordered else None)


def _record(asked: Asked, line: LineFacts) -> Record:
    facts = asked.facts
    span = asked_for(asked.query, facts.setup.local_time, facts.now_ms, line.first_row_ms)
    return asked.source.record(line.setup.line_id, span, facts.now_ms)


def _address(asked: Asked, path: str, query: dict[str, str]) -> str:
    return f"{asked.root}{path}?{urlencode(query)}"


def _named(asked: Asked, name: str, line_id: str, span: Span) -> Choice:
    return Choice(
        href=_address(asked, "/history", {"line": line_id, "span": name}),
        words=asked.reader.say(f"history.short.{name}"),
        here=span.name == name,
    )


def _moves(asked: Asked, line_id: str, span: Span) -> tuple[Choice, ...]:
    local = asked.facts.setup.local_time
    there = moves(span, asked.facts.now_ms)
    return tuple(
        Choice(
            href=_address(asked, "/history", {"line": line_id} | query_of(to, local)),
            words=asked.reader.say(f"history.move.{name}"),
            name=name,
        )
        for name, to in there.items()
    )


def _lines(asked: Asked, here: str, span: Span) -> tuple[Choice, ...]:
    if len(asked.facts.lines) < 2:
        return ()
    query = {"span": span.name} if span.name else query_of(span, asked.facts.setup.local_time)
    names = sorted(line.setup.line_id for line in asked.facts.lines)
    return tuple(
        Choice(href=_address(asked, "/history", {"line": n} | query), words=n, here=n == here)
        for n in names
    )


def _nothing(asked: Asked) -> HistoryView:
    facts, reader, when = asked.facts, asked.reader, asked.when
    empty = dict.fromkeys(("line_id", "days", "misread", "csv", "link", "figures", "said"), "")
    return HistoryView(
        site=facts.setup.name,
        what=facts.setup.what,
        service=facts.setup.service,
        demo=demo_note(facts, reader, when),
        title=reader.say("history.title"),
        story=reader.say("history.story.nothing-yet"),
        lines=(),
        spans=(),
        moves=(),
        chart=None,
        bins=0,
        here=0,
        at_mark=(),
        first="",
        last="",
        **empty,
    )


def _figures(asked: Asked) -> Given:
    """Texts under the reading mark, fetched when it is first moved."""
    line = _line(asked)
    found = readout(_record(asked, line), asked.reader, asked.when) if line else {}
    return Given(body=msgspec.json.encode(found), kind="application/json")


def _table(asked: Asked) -> Given:
    """The shown figures as CSV."""
    line = _line(asked)
    body = table(_record(asked, line)).encode() if line else b""
    return Given(body=body, kind="text/csv; charset=utf-8", file_name="history.csv")


PAGE = Page(
    path="/history",
    title="history.title",
    order=20,
    template="history.html",
    answer=answer,
    downloads=(
        Download(path="/history/figures.json", give=_figures),
        Download(path="/history/table.csv", give=_table),
    ),
)
