"""The page More: what is seldom wanted, each with a sentence."""

from __future__ import annotations

import msgspec

from dashboards.page import Asked, Page, pages
from dashboards.pages.now import demo_note


class Entry(msgspec.Struct, frozen=True, kw_only=True):
    """One page with what it is for."""

    path: str
    title: str
    what: str


class MoreView(msgspec.Struct, frozen=True, kw_only=True):
    """The whole page."""

    site: str
    what: str
    service: str
    demo: str
    entries: tuple[Entry, ...]


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
    )


PAGE = Page(path="/more", title="more.title", order=90, template="more.html", answer=answer)
