"""Fitting over a real site: who may press, what is written, what a reload shows, the record."""

from __future__ import annotations

import asyncio
import re
import subprocess
from collections.abc import AsyncIterator
from pathlib import Path

import httpx
import pytest
from click.testing import CliRunner

from analytics.samples import BypassSet, CartridgeFitted, Commissioning
from dashboards.commissioning.notebook import Notebook
from tests.dashboards.access.served import form_of, sign_in
from tests.dashboards.commissioning.rig import Rig, setup_of

pytestmark = pytest.mark.timeout(180)
URL = "http://127.0.0.1"


class Hand:
    """A browser on the machine itself, that presses one button after another."""

    def __init__(self, rig: Rig) -> None:
        self.rig = rig
        self.client = httpx.AsyncClient(
            transport=httpx.ASGITransport(app=rig.app), base_url=URL, headers={"origin": URL}
        )

    async def look(self, step: str = "") -> str:
        """The page, at a step or where it stands."""
        return (await self.client.get("/fit" + (f"?step={step}" if step else ""))).text

    async def press(self, step: str, act: str, turn: str = "", **typed: str) -> httpx.Response:
        """Open a step and press a button of it."""
        html = await self.look(step)
        found = re.search(r'data-turn="(\d+)"', html)
        assert found is not None
        fields = {"form": form_of(html), "line": "bar", "step": step, "act": act}
        return await self.client.post("/fit", data=fields | {"turn": turn or found[1]} | typed)

    async def count(self, water: str, *drops: int) -> None:
        """Count drops by typing what they come to."""
        for figure in drops:
            await self.press(water, "value", value=str(figure))


@pytest.fixture
async def hand(tmp_path: Path) -> AsyncIterator[Hand]:
    """A running site with somebody signed in."""
    rig = Rig(tmp_path)
    running = asyncio.create_task(rig.loop.run())
    made = Hand(rig)
    await sign_in(made.client)
    yield made
    await made.client.aclose()
    running.cancel()
    await asyncio.gather(running, return_exceptions=True)
    rig.close()


async def test_only_who_is_signed_in_can_press(hand: Hand) -> None:
    """Others see where it stands, and no button."""
    stranger = httpx.AsyncClient(
        transport=httpx.ASGITransport(app=hand.rig.app), base_url=URL, headers={"origin": URL}
    )
    html = (await stranger.get("/fit")).text
    sent = await stranger.post("/fit", data={"line": "bar", "step": "flush", "act": "start"})

    assert "step 1 of 12" in html
    assert 'class="go' not in html
    assert "Sign in to go on with this." in html
    assert (sent.status_code, sent.headers["location"]) == (303, "/sign-in")
    assert await hand.rig.book.entries() == []


async def test_flush_is_counted_and_work_keeps_alarms_quiet(hand: Hand) -> None:
    """The litres since the tap opened; the first press writes down that somebody works here."""
    await hand.press("flush", "start")
    hand.rig.water(400.0, 650.0, pulses=4950)
    shown = await hand.look()
    await hand.press("flush", "pass")
    (entry,) = await hand.rig.book.entries()

    assert "11.0\u202fL" in shown
    assert isinstance(entry.event, Commissioning)
    assert "step 2 of 12" in await hand.look()


async def test_a_reload_and_a_new_start_show_the_same_page(hand: Hand) -> None:
    """The sequence waits on the box: another reader of its file sees what was counted."""
    for _ in range(7):
        await hand.press("raw", "drop")
    page = Notebook(hand.rig.path).page("bar", 0)
    html = await hand.look()

    assert page.tally("raw", "hardness").drops == 7
    assert page.here == "raw"
    assert "7 drops: between 6.0–7.0" in html


async def test_a_form_of_an_old_page_changes_nothing(hand: Hand) -> None:
    """Two people at once: the second is shown where it stands now."""
    await hand.press("raw", "drop")
    late = await hand.press("raw", "drop", turn="0")

    assert late.status_code == 409
    assert "This page was old" in late.text
    assert Notebook(hand.rig.path).page("bar", 0).tally("raw", "hardness").drops == 1


async def test_a_step_taken_again_corrects_its_entry(hand: Hand) -> None:
    """The earlier entry is withdrawn, with the reason."""
    await hand.press("cartridge", "pass", cartridge_id="H-1", before="new")
    await hand.press("cartridge", "pass", cartridge_id="H-2", before="some", before_low="900")
    entries = await hand.rig.book.entries()
    fitted = [e for e in entries if isinstance(e.event, CartridgeFitted)]

    assert [e.event.cartridge_id for e in fitted] == ["H-1", "H-2"]
    assert [bool(e.withdrawn_by) for e in fitted] == [True, False]
    assert fitted[1].event.note == "Taken again while fitting. Fitting."
    assert fitted[1].event.who == "Ada"


async def test_what_cannot_be_is_said_and_what_was_typed_stays(hand: Hand) -> None:
    """A sentence, and the field still holds it."""
    answer = await hand.press("bypass", "pass", share='many"><script>')

    assert answer.status_code == 422
    assert "Bypass is no number." in answer.text
    assert "many&#34;" in answer.text
    assert "<script>" not in answer.text.replace('<script type="module"', "")


async def test_a_box_that_dies_between_logbook_and_page_writes_once(hand: Hand) -> None:
    """The act is on the disk, the page is not: the button pressed again adds no second entry."""
    await hand.press("raw", "drop")
    before = Notebook(hand.rig.path).page("bar", 0)
    await hand.press("bypass", "pass", share="25")
    Notebook(hand.rig.path).keep(before)
    await hand.press("bypass", "pass", share="25")
    entries = await hand.rig.book.entries()

    assert [type(e.event) for e in entries] == [Commissioning, BypassSet]
    assert Notebook(hand.rig.path).page("bar", 0).set_share == pytest.approx(0.25)


async def test_units_are_chosen_here_too(hand: Hand) -> None:
    """The page comes back in them, at the same step."""
    answer = await hand.client.get("/fit?line=bar&step=raw&units=fH")
    hand.client.cookies.update(answer.cookies)

    assert answer.headers["location"] == "/fit?line=bar&step=raw"
    assert "One drop stands for 1.785\u202f°fH" in await hand.look("raw")


async def test_who_comes_back_the_next_day_is_not_rung_at(hand: Hand) -> None:
    """Each four hours of work keep alarms quiet anew."""
    await hand.press("raw", "drop")
    await hand.press("raw", "drop")
    hand.rig.clock.gone_ms += 20 * 3_600_000
    await hand.press("raw", "drop")
    entries = await hand.rig.book.entries()

    assert [type(e.event) for e in entries] == [Commissioning, Commissioning]


async def test_minus_and_plus_post(hand: Hand) -> None:
    """Without script a press is sent and the field shows the new figure."""
    await hand.press("bypass", "", nudge="share:-5.0", share="30")

    assert 'value="25"' in await hand.look("bypass")


async def test_a_survey_moves_with_the_bypass_and_is_taken(hand: Hand) -> None:
    """Drop tests give a proposal; + goes to the next mark; taking it keeps what was promised."""
    await hand.count("raw", 15, 13)
    await hand.press("raw", "pass", chloride="18")
    first = await hand.look()
    await hand.press("proposal", "more")
    second = await hand.look()
    await hand.press("proposal", "take")
    page = Notebook(hand.rig.path).page("bar", 0)
    await hand.press("bypass", "pass", share="25")
    entries = await hand.rig.book.entries()

    assert 'class="plane"' in first
    assert "<style>" not in first
    assert "25 % round the bed puts this water in the window." in second
    assert page.promise is not None
    assert page.promise.share == pytest.approx(0.25)
    assert page.here == "dry"
    assert [e.event.share for e in entries if isinstance(e.event, BypassSet)] == [0.25]


def told_by(*command: str) -> str:
    """What a command prints, spaces made single."""
    done = subprocess.run(command, capture_output=True, check=True)
    return " ".join(done.stdout.decode().split())


async def test_the_record_says_every_check(hand: Hand, tmp_path: Path) -> None:
    """As PDF from the page, with what passed, what is open and where to sign."""
    await hand.press("cartridge", "pass", cartridge_id="H-2231", before="unknown")
    await hand.count("raw", 15, 13)
    await hand.press("raw", "pass", chloride="18")
    await hand.press("proposal", "take")
    offered = (await hand.client.get("/paper")).text
    answer = await hand.client.get("/paper/get?kind=handover&line=bar")
    file = tmp_path / "record.pdf"
    file.write_bytes(answer.content)
    said = await asyncio.to_thread(told_by, "pdftotext", "-layout", str(file), "-")

    assert "Hand-over record" in offered
    assert answer.headers["content-type"] == "application/pdf"
    for words in ("Harbour Steps", "Northgate Water Care", "H-2231", "Checks still open",
                  "100 of 100 cases", "Alkalinity", "not known", "Fitted by, date", "Ada",
                  "18 mg/L"):  # fmt: skip
        assert words in said
    assert "Tagged: yes" in await asyncio.to_thread(told_by, "pdfinfo", str(file))


async def test_no_record_before_anything_was_done(hand: Hand) -> None:
    """It says where to begin."""
    answer = await hand.client.get("/paper/get?kind=handover&line=bar")

    assert answer.status_code == 404
    assert "Open /fit." in answer.text


def test_a_line_without_meters_has_a_road_too(tmp_path: Path) -> None:
    """Steps that need a meter are passed over, and the page says so."""

    async def walk() -> str:
        setup = setup_of(outlet_probe=False, inlet_probe=False, flow_meter=False)
        rig = Rig(tmp_path, setup)
        running = asyncio.create_task(rig.loop.run())
        hand = Hand(rig)
        await sign_in(hand.client)
        await hand.press("flush", "pass", flushed="12")
        over = await hand.look("jugs")
        assert "step 2 of 12" in await hand.look()
        await hand.client.aclose()
        running.cancel()
        await asyncio.gather(running, return_exceptions=True)
        rig.close()
        return over

    assert "This line has no flow meter." in asyncio.run(walk())


def test_the_command_knows_the_record() -> None:
    """lastlitre paper SITE.toml handover."""
    from dashboards.paper_command import paper_command

    help_text = CliRunner().invoke(paper_command, ["--help"]).output

    assert "handover" in help_text
