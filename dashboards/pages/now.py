"""The page Now: is the water right, how much is left, and what does that rest on."""

from __future__ import annotations

import msgspec
from markupsafe import Markup

from dashboards.line_view import LineView, line_view
from dashboards.page import Asked, Page, worst_first
from dashboards.phrases.headlines import headline
from dashboards.phrases.numbers import THIN
from dashboards.phrases.reader import Reader
from dashboards.phrases.times import When
from dashboards.signs import glass
from dashboards.sources import LineFacts, SiteFacts
from dashboards.state import GLASS, State


class LineLink(msgspec.Struct, frozen=True, kw_only=True):
    """One line in the list of lines."""

    href: str
    name: str
    sign: Markup
    word: str
    sentence: str
    here: bool


class NowView(msgspec.Struct, frozen=True, kw_only=True):
    """The whole page; `line` is None where no line is set up."""

    site: str
    what: str
    service: str
    demo: str
    lines: tuple[LineLink, ...]
    line: LineView | None
    wall: bool


def answer(asked: Asked) -> NowView:
    """The page as asked for: the line named in the query, or the one in most need."""
    facts, when = asked.facts, asked.when
    ordered = worst_first(facts)
    wanted = asked.query.get("line", "")
    shown = next(
        (p for p in ordered if p[1].setup.line_id == wanted), ordered[0] if ordered else None
    )
    return NowView(
        site=facts.setup.name,
        what=facts.setup.what,
        service=facts.setup.service,
        demo=demo_note(facts, asked.reader, when),
        lines=tuple(_link(asked, when, pair, shown) for pair in ordered),
        line=line_view(shown[1], shown[0], asked) if shown else None,
        wall="wall" in asked.query,
    )


def demo_note(facts: SiteFacts, reader: Reader, when: When) -> str:
    """What is said where the clock does not run as the world's does; else nothing."""
    if facts.speed == 1:
        return ""
    speed = f"{facts.speed:,.0f}" if facts.speed >= 2 else f"{facts.speed:.2g}"
    return reader.say(
        "page.demo",
        speed=speed.replace(",", THIN),
        day=when.long(when.today),
        clock=when.clock(facts.now_ms),
    )


def _link(
    asked: Asked, when: When, pair: tuple[State, LineFacts], shown: tuple[State, LineFacts] | None
) -> LineLink:
    state, line = pair
    name = line.setup.line_id
    told = headline(line, state, asked.reader, when)
    wall = "&wall" if "wall" in asked.query else ""
    return LineLink(
        href=f"{asked.root}/now?line={name}{wall}",
        name=name,
        sign=glass(GLASS[state], 34),
        word=asked.reader.say(f"state.{GLASS[state]}"),
        sentence=told.spoken,
        here=pair is shown,
    )


PAGE = Page(path="/now", title="page.title", order=10, template="now.html", answer=answer)
