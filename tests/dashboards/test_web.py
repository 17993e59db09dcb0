"""The pages over HTTP: addresses, headers, choices, size, and what happens when facts fail."""

from __future__ import annotations

import json
from collections.abc import AsyncIterator

import httpx
import msgspec
import pytest

from analytics.errors import StoreDamaged
from dashboards.assets import assets
from dashboards.desk import live_message
from dashboards.sources import SiteFacts
from dashboards.web import create_app
from tests.dashboards.specimens import FixedSource, english, line, line_setup, site, states


class Broken:
    """A source whose file cannot be read."""

    def facts(self) -> SiteFacts:
        """Never gives any."""
        raise StoreDamaged("The site's file cannot be read.", "Put the last copy in its place.")


@pytest.fixture
def source() -> FixedSource:
    """A site with one line that is right."""
    return FixedSource(site(line()))


@pytest.fixture
async def client(source: FixedSource) -> AsyncIterator[httpx.AsyncClient]:
    """A client of the pages on loopback."""
    async with client_of(source) as opened:
        yield opened


def client_of(source: FixedSource | Broken, host: str = "127.0.0.1") -> httpx.AsyncClient:
    """A client that speaks to an app directly, by this host name."""
    transport = httpx.ASGITransport(app=create_app(source), raise_app_exceptions=False)
    return httpx.AsyncClient(transport=transport, base_url=f"http://{host}")


async def test_start_leads_to_the_page_now(client: httpx.AsyncClient) -> None:
    """The bare address leads to the first page."""
    answer = await client.get("/")

    assert (answer.status_code, answer.headers["location"]) == (302, "/now")


@pytest.mark.parametrize("path", ["/now", "/live?line=nobody", "/static/sheet.css", "/nowhere"])
async def test_every_answer_keeps_the_page_to_itself(source: FixedSource, path: str) -> None:
    """Every answer forbids scripts in the markup and anything from elsewhere."""
    app = create_app(source)
    app.state.stream.close()
    transport = httpx.ASGITransport(app=app)
    async with httpx.AsyncClient(transport=transport, base_url="http://localhost") as client:
        policy = (await client.get(path)).headers["content-security-policy"]

    assert "default-src 'none'" in policy
    assert "unsafe" not in policy
    assert "http" not in policy


async def test_markup_holds_no_script_style_or_foreign_address(client: httpx.AsyncClient) -> None:
    """The page has no inline script or style and names no other host."""
    html = (await client.get("/now")).text

    assert " style=" not in html
    assert "<style" not in html
    assert " onclick" not in html
    assert html.count("<script") == 1
    assert "//" not in html.replace("http://www.w3.org/2000/svg", "")


@pytest.mark.parametrize("host", ["harbour.example", "127.0.0.1.example", "10.0.0.7"])
async def test_name_that_is_not_ours_is_refused(source: FixedSource, host: str) -> None:
    """A request by a name this server does not answer to gets nothing."""
    async with client_of(source, host) as client:
        assert (await client.get("/now")).status_code == 400


async def test_first_load_is_small(client: httpx.AsyncClient) -> None:
    """Page, stylesheet, script and mark together take less than 60 kB on the wire."""
    total = 0
    paths = ["/now", *(f"/static/{name}" for name in assets())]
    for path in paths:
        request = client.build_request("GET", path, headers={"accept-encoding": "gzip"})
        answer = await client.send(request, stream=True)
        total += sum([len(part) async for part in answer.aiter_raw()])
        total += sum(len(k) + len(v) + 4 for k, v in answer.headers.raw)

    assert total < 60_000


async def test_asset_with_its_mark_is_kept_for_ever(client: httpx.AsyncClient) -> None:
    """An address with the content's mark may be kept; without it the browser asks again."""
    mark = assets()["sheet.css"].mark
    kept = await client.get(f"/static/sheet.css?v={mark}")
    asked = await client.get("/static/sheet.css?v=older")

    assert "immutable" in kept.headers["cache-control"]
    assert asked.headers["cache-control"] == "no-cache"
    assert (await client.get("/static/..%2Fweb.py")).status_code == 404


@pytest.mark.parametrize(
    ("unit", "text"), [("fH", "12.5 °fH"), ("mg/L CaCO3", "125 mg/L CaCO₃"), ("dH", "7.0 °dH")]
)
async def test_choice_of_unit_is_kept(client: httpx.AsyncClient, unit: str, text: str) -> None:
    """A chosen unit is kept by the browser and used from then on."""
    chosen = await client.get("/now", params={"units": unit, "line": "bar"})

    assert (chosen.status_code, chosen.headers["location"]) == (303, "/now?line=bar")
    assert text in (await client.get("/now")).text.replace("\u202f", " ")


async def test_choice_that_is_none_names_those_there_are(client: httpx.AsyncClient) -> None:
    """An unknown unit is refused with the list of units."""
    answer = await client.get("/now?units=furlong")

    assert answer.status_code == 400
    assert "dH, fH, e, gpg, mg/L CaCO3, mmol/L" in answer.text


async def test_tampered_cookie_falls_back_to_the_usual(client: httpx.AsyncClient) -> None:
    """A cookie with a value that is no choice changes nothing."""
    client.cookies.set("units", "<script>")

    assert "°dH" in (await client.get("/now")).text


async def test_unknown_page_names_those_there_are(client: httpx.AsyncClient) -> None:
    """A wrong address says which pages there are."""
    answer = await client.get("/nowhere")

    assert answer.status_code == 404
    assert "/now" in answer.text


async def test_texts_of_a_site_cannot_become_markup() -> None:
    """Names and alarm texts are written as text, whatever they hold."""
    evil = "<img src=x onerror=alert(1)>"
    facts = site(states()["due"])
    alarm = msgspec.structs.replace(facts.lines[0].alarms[0], text=evil)
    facts = msgspec.structs.replace(
        facts,
        setup=msgspec.structs.replace(facts.setup, name=evil),
        lines=(msgspec.structs.replace(facts.lines[0], alarms=(alarm,)),),
    )
    async with client_of(FixedSource(facts)) as client:
        html = (await client.get(f"/now?line={evil}")).text

    assert "<img" not in html
    assert "&lt;img" in html


async def test_facts_that_cannot_be_read_are_told_with_the_mend() -> None:
    """When the store fails the page says so, and what to do."""
    async with client_of(Broken()) as client:
        answer = await client.get("/now")

    assert answer.status_code == 503
    assert "cannot be read" in answer.text
    assert "Put the last copy" in answer.text


async def test_trouble_reaches_open_pages_as_a_message() -> None:
    """An open page is told that facts cannot be read; its stream goes on."""
    desk = create_app(Broken()).state.desk
    message = await desk.message((desk.usual, "bar"))

    assert json.loads(message.split(b"data: ")[1])["trouble"] == "The site's file cannot be read."


async def test_facts_are_read_once_for_all_who_ask_in_a_second(source: FixedSource) -> None:
    """Pages and streams of one second share one reading of the store."""
    now_s = 100.0
    desk = create_app(source, clock=lambda: now_s).state.desk
    for _ in range(20):
        await desk.message((desk.usual, "bar"))
    assert source.asked == 1

    now_s = 101.0
    await desk.message((desk.usual, "bar"))
    assert source.asked == 2


def test_live_message_carries_every_figure_with_range_and_age() -> None:
    """Each live figure has value, range and age; old ones are named."""
    message = live_message(site(line()), "bar", english())

    for key in ("ec-out", "ec-in", "temp", "flow", "today"):
        assert {f"{key}.value", f"{key}.range", f"{key}.age"} <= message["t"].keys()
    assert message["old"] == []
    assert live_message(site(states()["silent"]), "bar", english())["old"]


def test_version_changes_with_state_estimate_and_alarms_alone() -> None:
    """Live figures leave the version as it is; a new estimate, state or alarm changes it."""
    versions = {
        name: live_message(site(facts), "bar", english())["v"] for name, facts in states().items()
    }
    moved = msgspec.structs.replace(line(), live={})

    assert live_message(site(moved), "bar", english())["v"] == versions["right"]
    assert len({versions[n] for n in ("right", "due", "past", "silent", "source")}) == 5


async def test_several_lines_are_listed_worst_first() -> None:
    """With several lines the worst is shown and all are listed with links."""
    past = msgspec.structs.replace(states()["past"], setup=line_setup(line_id="kitchen"))
    async with client_of(FixedSource(site(line(), past))) as client:
        html = (await client.get("/now")).text
        bar = (await client.get("/now?line=bar")).text

    assert html.index("kitchen: Change now") < html.index("bar: Right")
    assert "<h1>Change the cartridge now.</h1>" in html
    assert "<h1>The water is right.</h1>" in bar


async def test_site_without_lines_says_what_to_do() -> None:
    """No line: a sentence and the mend, no failure."""
    async with client_of(FixedSource(site())) as client:
        html = (await client.get("/now")).text

    assert "No line is set up." in html


async def test_speed_of_the_clock_is_shown_unless_it_is_one(client: httpx.AsyncClient) -> None:
    """A demonstration's speed stands on the page."""
    assert "A demonstration" not in (await client.get("/now")).text
    async with client_of(FixedSource(site(line(), speed=1440.0))) as fast:
        html = (await fast.get("/now")).text

    assert "the clock runs 1 440 times as fast" in html.replace("\u202f", " ")
