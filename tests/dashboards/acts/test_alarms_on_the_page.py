"""The page Alarms over a real logbook: acknowledge, shelve with reason and end, the journal."""

from __future__ import annotations

import asyncio
import re
from collections.abc import AsyncIterator
from pathlib import Path

import httpx
import pytest

from analytics.samples import Acknowledged, Shelved
from dashboards.web import create_app
from firmware_bridge.clock import VirtualClock
from firmware_bridge.live import Live
from firmware_bridge.logbook.book import Logbook
from firmware_bridge.site import SiteLoop
from firmware_bridge.store.database import Store
from tests.dashboards.access.served import door, form_of, sign_in
from tests.dashboards.acts.alarm_facts import FACTS
from tests.dashboards.specimens import NOW_MS, FixedSource

URL = "http://127.0.0.1"


@pytest.fixture
async def pages(tmp_path: Path) -> AsyncIterator[tuple[httpx.AsyncClient, Logbook]]:
    """Pages of a running site with two alarms, and a browser on the machine itself."""
    store = Store.open(tmp_path / "a.sqlite", site_id=FACTS.setup.site_id)
    clock = VirtualClock(NOW_MS, 0.0)
    loop = SiteLoop(FACTS.setup, store, clock, Live())
    book = Logbook(FACTS.setup, store.reader(), loop, clock)
    app = create_app(FixedSource(FACTS), access=door(tmp_path, all_may_look=True), book=book)
    client = httpx.AsyncClient(
        transport=httpx.ASGITransport(app=app), base_url=URL, headers={"origin": URL}
    )
    running = asyncio.create_task(loop.run())
    yield client, book
    await client.aclose()
    running.cancel()
    await asyncio.gather(running, return_exceptions=True)
    store.close()


def fields_of(html: str, kind: str, alarm: str) -> dict[str, str]:
    """The hidden fields of the form that does this to this alarm."""
    forms = re.findall(rf'<form method="post" action="/act/{kind}".*?</form>', html, re.DOTALL)
    form = next(f for f in forms if f'value="{alarm}"' in f)
    return dict(re.findall(r'<input type="hidden" name="(\w+)" value="([^"]*)"', form))


async def test_alarm_says_what_it_means_and_what_to_do(
    pages: tuple[httpx.AsyncClient, Logbook],
) -> None:
    """Title, figures, response and by when; the sentence counts; nothing to press unless signed
    in."""
    client, _ = pages
    html = (await client.get("/alarms")).text

    for words in ("Two alarms stand", "The cartridge is used up.", "93", "Do a drop test",
                  "not acknowledged", "Journal"):  # fmt: skip
        assert words.lower() in html.lower()
    assert "<form" not in html.split("<footer")[0]


async def test_seen_alarm_is_an_entry_with_a_name(
    pages: tuple[httpx.AsyncClient, Logbook],
) -> None:
    """The button writes an act of the person signed in and comes back here."""
    client, book = pages
    await sign_in(client)
    html = (await client.get("/alarms")).text
    fields = fields_of(html, "acknowledged", "breakthrough")
    sent = await client.post("/act/acknowledged", data=fields)
    again = await client.post("/act/acknowledged", data=fields)
    entries = await book.entries()

    assert (sent.status_code, sent.headers["location"]) == (303, "/alarms")
    assert again.status_code == 303
    assert [type(e.event) for e in entries] == [Acknowledged]
    assert entries[0].event.who == "Ada"
    assert form_of(html)


async def test_shelf_needs_a_reason_and_has_an_end(
    pages: tuple[httpx.AsyncClient, Logbook],
) -> None:
    """Without a reason it is refused in words; with one it is shelved for the time chosen."""
    client, book = pages
    await sign_in(client)
    html = (await client.get("/alarms")).text
    fields = fields_of(html, "shelved", "breakthrough")
    until = re.findall(r'<option value="([0-9T:-]+)"', html)[1]
    bare = await client.post("/act/shelved", data={**fields, "until_ms": until})
    sent = await client.post(
        "/act/shelved", data={**fields, "until_ms": until, "note": "new cartridge comes tomorrow"}
    )
    shelved = [e.event for e in await book.entries()]

    assert bare.status_code == 422
    assert sent.status_code == 303
    assert len(shelved) == 1
    assert isinstance(shelved[0], Shelved)
    assert shelved[0].until_ms - NOW_MS == pytest.approx(86_400_000, abs=60_000)


async def test_form_cannot_lead_elsewhere(pages: tuple[httpx.AsyncClient, Logbook]) -> None:
    """Where a form goes back to is one of our pages, whatever was sent."""
    client, _ = pages
    await sign_in(client)
    html = (await client.get("/alarms")).text
    fields = fields_of(html, "acknowledged", "breakthrough") | {"then": "https://elsewhere.example"}
    sent = await client.post("/act/acknowledged", data=fields)

    assert sent.headers["location"] == "/logbook"
