"""The document on running a fleet is a page of the fleet."""

from __future__ import annotations

import html
import re
from pathlib import Path

from dashboards.fleet.guide import set_as_page
from firmware_bridge.firmware.board import settings
from tests.dashboards.fleet.stocked import Stock, signed_in

DOCUMENT = Path(__file__).resolve().parents[3] / "firmware_bridge" / "fleet" / "DEPLOYMENT.md"


async def test_page_says_all_that_the_document_says(fleet: Stock) -> None:
    """Every heading and every block of commands stands on the page as in the document."""
    document = DOCUMENT.read_text(encoding="utf-8")
    async with signed_in(fleet.app(), "owner") as client:
        page = (await client.get("/guide")).text
    shown = html.unescape(page)

    assert (chapters := re.findall(r"^## (.+)$", document, re.MULTILINE))
    assert [f"<h2>{title}</h2>" for title in chapters if f"<h2>{title}</h2>" not in shown] == []
    assert (blocks := re.findall(r"^```\w+\n(.*?)^```$", document, re.MULTILINE | re.DOTALL))
    assert [block for block in blocks if block not in shown] == []
    assert "style=" not in page
    assert "<!--" not in page


def test_markup_within_the_document_is_text() -> None:
    """A document cannot bring a script, a frame or a style of its own."""
    text = "# T\n\n## C\n\n<script>x()</script>\n\n|a|b|\n|:-:|--:|\n|`1`|<i>2</i>|\n"

    (chapter,) = set_as_page(text).chapters

    assert "<script" not in chapter.body
    assert "<i>" not in chapter.body
    assert "style" not in chapter.body
    assert '<table class="ruled">' in chapter.body


async def test_technician_finds_how_meters_are_wired(fleet: Stock) -> None:
    """The wiring guide is reached from More, and names the pins that the program uses."""
    async with signed_in(fleet.app(), "technician") as client:
        more = (await client.get("/more")).text
        page = (await client.get("/guide/wiring")).text

    assert 'href="/guide/wiring"' in more
    assert 'href="/guide"' not in more
    assert f"GPIO {settings.TURBINE_1}" in page
