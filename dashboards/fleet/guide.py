"""Guides: running a fleet, a document set as a page; and how the meters of a box are wired."""

from __future__ import annotations

import re
from functools import cache
from importlib.resources import files

import msgspec
from markdown_it import MarkdownIt
from markdown_it.token import Token
from markupsafe import Markup

from dashboards.fleet.asked import Answer, Answers, Asked, Sheet
from dashboards.pages.wiring import wiring_of

COMMENT = re.compile(r"^<!--.*?-->$", re.MULTILINE | re.DOTALL)


class Chapter(msgspec.Struct, frozen=True, kw_only=True):
    """A part of the document: its heading ("" before the first one), and its text as markup."""

    title: str
    body: Markup


class GuideView(msgspec.Struct, frozen=True, kw_only=True):
    """The document: what it is called, and its chapters in their order."""

    title: str
    chapters: tuple[Chapter, ...]


@cache
def guide() -> GuideView:
    """The document as the package has it; it does not change while the program runs."""
    page = files("firmware_bridge.fleet") / "DEPLOYMENT.md"
    return set_as_page(page.read_text(encoding="utf-8"))


def set_as_page(text: str) -> GuideView:
    """Markdown (CommonMark with tables) as a title and a chapter for each heading of the second
    level. Comments are left out; other markup within the text is shown as text."""
    markdown = MarkdownIt("commonmark", {"html": False}).enable("table")
    tokens = markdown.parse(COMMENT.sub("", text))
    title, parts = "", [("", list[Token]())]
    for at, token in enumerate(tokens):
        before = tokens[at - 1].tag if at else ""
        if token.type == "inline" and before == "h1":
            title = token.content
        elif token.type == "inline" and before == "h2":
            parts.append((token.content, []))
        elif token.tag not in ("h1", "h2"):
            parts[-1][1].append(_dressed(token))
    return GuideView(
        title=title,
        chapters=tuple(
            Chapter(title=name, body=Markup(markdown.renderer.render(part, markdown.options, {})))
            for name, part in parts
            if part
        ),
    )


def _dressed(token: Token) -> Token:
    """A token in the stylesheet's words: no style of its own, which the page's policy forbids."""
    token.attrs.pop("style", None)
    if token.type == "table_open":
        token.attrSet("class", "ruled")
    return token


def deployment(asked: Asked) -> Answer:
    """How to run a fleet."""
    return Sheet(template="fleet/guide.html", view=guide())


def wiring(asked: Asked) -> Answer:
    """How meters are wired, as on a box's own page."""
    return Sheet(template="wiring.html", view=wiring_of(asked.reader, asked.house.company))


ANSWERS: Answers = {("GET", "/guide"): deployment, ("GET", "/guide/wiring"): wiring}
AGAIN: dict[str, str] = {}
