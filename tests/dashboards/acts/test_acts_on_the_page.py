"""The logbook's addresses, over a real logbook: only those signed in write."""

from __future__ import annotations

import asyncio
import re
from collections.abc import AsyncIterator
from pathlib import Path

import httpx
import pytest

from dashboards.web import create_app
from firmware_bridge.clock import VirtualClock
from firmware_bridge.live import Live
from firmware_bridge.logbook.book import Logbook
from firmware_bridge.site import SiteLoop
from firmware_bridge.store.database import Store
from tests.dashboards.access.served import door, form_of, sign_in
from tests.dashboards.specimens import NOW_MS, FixedSource, line, site

FACTS = site(line())
URL = "http://127.0.0.1"


class Place:
    """Pages over a running site, and a browser on the machine itself."""

    def __init__(self, folder: Path) -> None:
        self.store = Store.open(folder / "a.sqlite", site_id=FACTS.setup.site_id)
        clock = VirtualClock(NOW_MS, 0.0)
        self.loop = SiteLoop(FACTS.setup, self.store, clock, Live())
        self.book = Logbook(FACTS.setup, self.store.reader(), self.loop, clock)
        app = create_app(FixedSource(FACTS), access=door(folder, all_may_look=True), book=self.book)
        self.client = httpx.AsyncClient(
            transport=httpx.ASGITransport(app=app), base_url=URL, headers={"origin": URL}
        )

    async def send(self, kind: str, **typed: str) -> httpx.Response:
        """Open a form and send it filled."""
        page = await self.client.get(f"/act/{kind}")
        once = re.search(r'name="once" value="([^"]+)"', page.text)
        assert once is not None
        fields = {"form": form_of(page.text), "once": once[1], "line": "bar", **typed}
        return await self.client.post(f"/act/{kind}", data=fields)

    async def undo(self, event_id: str, **typed: str) -> httpx.Response:
        """Press the button beside an entry."""
        page = await self.client.get("/logbook")
        fields = {"form": form_of(page.text), "entry": event_id, **typed}
        return await self.client.post("/act/undo", data=fields)


@pytest.fixture
async def place(tmp_path: Path) -> AsyncIterator[Place]:
    """A running site with somebody signed in."""
    made = Place(tmp_path)
    running = asyncio.create_task(made.loop.run())
    await sign_in(made.client)
    yield made
    await made.client.aclose()
    running.cancel()
    await asyncio.gather(running, return_exceptions=True)
    made.store.close()


async def test_a_drop_test_is_written_down_and_shown(place: Place) -> None:
    """With who, in the reader's unit, and the chain whole."""
    sent = await place.send("drop-test", point="blended", hardness_mmol_l="7", unit="dH")
    html = (await place.client.get("/logbook")).text
    entries = await place.book.entries()

    assert (sent.status_code, sent.headers["location"]) == (303, "/logbook")
    assert entries[0].event.who == "Ada"
    assert "by Ada" in html
    assert "<b>7.0 °dH</b>" in html
    assert "where the machine gets it" in html
    assert "The chain of all 1 entries is whole" in html


async def test_an_entry_is_taken_back_and_struck_through(place: Place) -> None:
    """Both entries stand in the logbook."""
    await place.send("note", note="the main was flushed")
    (entry,) = await place.book.entries()
    await place.undo(entry.event.event_id)
    html = (await place.client.get("/logbook")).text

    assert "taken back by entry 2" in html
    assert "takes back entry 1" in html
    assert html.count("Take back</button>") == 0


async def test_a_correction_by_its_form(place: Place) -> None:
    """The form says which entry it stands in place of, and asks why."""
    await place.send("bypass-set", share="30")
    (old,) = await place.book.entries()
    page = await place.client.get(f"/act/bypass-set?corrects={old.event.event_id}")
    assert "Corrects entry 1: Bypass turned." in page.text
    assert 'name="share" value="30"' in page.text
    bare = await place.send("bypass-set", share="20", corrects=old.event.event_id)
    sent = await place.send(
        "bypass-set", share="20", corrects=old.event.event_id, note="misread the head"
    )

    assert bare.status_code == 422
    assert "The note is missing: say why." in bare.text
    assert sent.status_code == 303
    assert "in place of entry 1" in (await place.client.get("/logbook")).text


async def test_what_cannot_be_is_said_and_what_was_typed_stays(place: Place) -> None:
    """Nothing is written; the field still holds what was typed, as text."""
    evil = '"><script>alert(1)</script>'
    answer = await place.send("drop-test", point="raw", hardness_mmol_l="700", note=evil)

    assert answer.status_code == 422
    assert "Total hardness cannot be. Look at the unit." in answer.text
    assert 'value="700"' in answer.text
    assert "<script>alert" not in answer.text
    assert await place.book.entries() == []


async def test_without_a_sign_in_nothing_is_written(place: Place) -> None:
    """The logbook may be read; its forms lead to the sign-in."""
    place.client.cookies.clear()
    page = await place.client.get("/logbook")
    form = await place.client.get("/act/note")
    sent = await place.client.post("/act/note", data={"note": "x", "line": "bar"})

    assert page.status_code == 200
    assert "Sign in to write something down." in page.text
    assert "/act/" not in page.text
    assert form.headers["location"] == "/sign-in?then=%2Fact%2Fnote"
    assert sent.headers["location"] == "/sign-in"
    assert await place.book.entries() == []


async def test_two_people_write_at_once(place: Place) -> None:
    """Both entries are there, in one chain."""
    await asyncio.gather(
        *(place.send("note", note=f"remark {n}") for n in range(6)),
    )

    assert (await place.book.check()).entries == 6


@pytest.mark.parametrize("kind", ["kettle", "withdrawn", "undo"])
async def test_there_is_no_form_for_what_is_no_act(place: Place, kind: str) -> None:
    """It leads to the logbook."""
    assert (await place.client.get(f"/act/{kind}")).headers["location"] == "/logbook"
