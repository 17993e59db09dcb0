"""The page Paper: records and reports to print, to sign and to keep."""

from __future__ import annotations

from datetime import date
from urllib.parse import urlencode

import msgspec

from dashboards.page import Asked, Download, Given, Page
from dashboards.pages.now import demo_note
from dashboards.paper.address import for_phones
from dashboards.paper.make import wanted_of
from dashboards.sources import LineFacts

MONTHS_SHOWN = 13


class Offer(msgspec.Struct, frozen=True, kw_only=True):
    """One paper that can be made."""

    href: str
    words: str
    what: str


class LinePapers(msgspec.Struct, frozen=True, kw_only=True):
    """The papers of one line: of each cartridge, newest first, and of months and years."""

    name: str
    cartridges: tuple[tuple[str, tuple[Offer, ...]], ...]
    reports: tuple[Offer, ...]
    handover: Offer | None = None


class PaperView(msgspec.Struct, frozen=True, kw_only=True):
    """The whole page."""

    site: str
    what: str
    service: str
    demo: str
    lines: tuple[LinePapers, ...]


def answer(asked: Asked) -> PaperView:
    """What can be printed for each line."""
    facts = asked.facts
    return PaperView(
        site=facts.setup.name,
        what=facts.setup.what,
        service=facts.setup.service,
        demo=demo_note(facts, asked.reader, asked.when),
        lines=tuple(_line(asked, line) for line in facts.lines),
    )


def _line(asked: Asked, line: LineFacts) -> LinePapers:
    name, when, say = line.setup.line_id, asked.when, asked.reader.say
    found = asked.source.cartridges(name, asked.facts.now_ms)
    rows = []
    for place in reversed(range(len(found))):
        cartridge = found[place]
        first = when.short(when.day(cartridge.fitted.at_ms))
        if cartridge.until_ms is None:
            words = say("paper.since", first=first)
        else:
            last = when.short(when.day(cartridge.until_ms))
            words = say("paper.until", first=first, last=last)
        serial = cartridge.fitted.cartridge_id
        offers = tuple(
            Offer(
                href=_address(asked, kind=kind, line=name, cartridge=str(place)),
                words=say(f"paper.{kind}"),
                what=say("paper.zip" if kind == "evidence" else "paper.pdf"),
            )
            for kind in ("change", "evidence")
        )
        rows.append((f"{serial}, {words}" if serial else words, offers))
    record = Offer(
        href=_address(asked, kind="handover", line=name),
        words=say("paper.handover"),
        what=say("paper.pdf"),
    )
    fitted = asked.source.was_fitted(name)
    return LinePapers(
        name=name,
        cartridges=tuple(rows),
        reports=_reports(asked, line),
        handover=record if fitted else None,
    )


def _reports(asked: Asked, line: LineFacts) -> tuple[Offer, ...]:
    """Months with readings, newest first, then years."""
    if line.first_row_ms is None:
        return ()
    when, say, name = asked.when, asked.reader.say, line.setup.line_id
    first, today = when.day(line.first_row_ms), when.today
    months = [
        divmod(n, 12)
        for n in range(today.year * 12 + today.month - 1, first.year * 12 + first.month - 2, -1)
    ]
    found = [
        Offer(
            href=_address(asked, kind="month", line=name, year=str(y), month=str(m + 1)),
            words=when.month(date(y, m + 1, 1)),
            what=say("paper.pdf"),
        )
        for y, m in months[:MONTHS_SHOWN]
    ]
    found += [
        Offer(
            href=_address(asked, kind="year", line=name, year=str(y)),
            words=str(y),
            what=say("paper.pdf"),
        )
        for y in range(today.year, first.year - 1, -1)
    ]
    return tuple(found)


def _address(asked: Asked, **query: str) -> str:
    return f"{asked.root}/paper/get?{urlencode(query)}"


def _get(asked: Asked) -> Given:
    wanted = wanted_of(asked.query, asked.facts.setup)
    wanted = msgspec.structs.replace(wanted, address=for_phones(asked.address))
    made = asked.source.paper(wanted, asked.reader, asked.facts.now_ms)
    return Given(body=made.body, kind=made.kind, file_name=made.file_name)


PAGE = Page(
    path="/paper",
    title="paper.title",
    order=50,
    template="paper.html",
    answer=answer,
    under_more=True,
    downloads=(Download(path="/paper/get", give=_get),),
)
