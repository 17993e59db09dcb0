"""The page More: what is seldom wanted, each with a sentence."""

from __future__ import annotations

import msgspec

from dashboards.page import Asked, Page, pages
from dashboards.pages.now import demo_note
from dashboards.ways import Way

ILL = frozenset(("away", "refused", "unconfirmed"))
"""Conditions in which a person should look."""


class Entry(msgspec.Struct, frozen=True, kw_only=True):
    """One page with what it is for."""

    path: str
    title: str
    what: str


class WayOut(msgspec.Struct, frozen=True, kw_only=True):
    """One way out of the box: its name, how it is, and sentences; `ill`: somebody should look."""

    name: str
    how: str
    sentences: tuple[str, ...]
    ill: bool


class MoreView(msgspec.Struct, frozen=True, kw_only=True):
    """The whole page."""

    site: str
    what: str
    service: str
    demo: str
    entries: tuple[Entry, ...]
    ways: tuple[WayOut, ...] = ()


def answer(asked: Asked) -> MoreView:
    """Every page that stands under More."""
    facts, say = asked.facts, asked.reader.say
    return MoreView(
        site=facts.setup.name,
        what=facts.setup.what,
        service=facts.setup.service,
        demo=demo_note(facts, asked.reader, asked.when),
        entries=tuple(
            Entry(path=page.path, title=say(page.title), what=say(f"{page.title}-what"))
            for page in pages()
            if page.under_more
        ),
        ways=tuple(_way_out(way, asked) for way in facts.ways),
    )


def _way_out(way: Way, asked: Asked) -> WayOut:
    say = asked.reader.say
    waits = say(f"ways.{way.goes}.none")
    if way.waiting:
        waits = say(f"ways.{way.goes}.wait", n=way.waiting)
    through = say("ways.never")
    if way.worked_ms is not None:
        through = say("ways.worked", when=asked.when.age(way.worked_ms))
    said = (waits, _oldest(way, asked), through, _fault(way, asked))
    return WayOut(
        name=way.name,
        how=say(f"ways.{way.goes}.{way.condition}"),
        sentences=tuple(each for each in said if each),
        ill=way.condition in ILL,
    )


def _oldest(way: Way, asked: Asked) -> str:
    if not way.waiting or way.waits_since_ms is None:
        return ""
    return asked.reader.say("ways.oldest", when=asked.when.age(way.waits_since_ms))


def _fault(way: Way, asked: Asked) -> str:
    """What was wrong last, in the words of whoever found it, and what to do while it still is."""
    if not way.trouble:
        return ""
    when = "" if way.trouble_ms is None else asked.when.age(way.trouble_ms)
    said = f"{way.trouble.rstrip('.')}."
    words = "ways.fault-when" if when else "ways.fault"
    told = asked.reader.say(words, when=when, fault=said)
    return f"{told} {way.hint}".strip()


PAGE = Page(path="/more", title="more.title", order=90, template="more.html", answer=answer)
