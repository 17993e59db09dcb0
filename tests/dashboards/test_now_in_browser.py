"""The page Now in a real browser: desktop and phone, light and dark, with and without script."""

from __future__ import annotations

import msgspec
import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect

from dashboards.bed import beads
from dashboards.sources import SiteFacts
from tests.dashboards.browsing import OVERLAPS
from tests.dashboards.conftest import SIZES, Serving, Shown
from tests.dashboards.specimens import (
    FixedSource,
    estimate,
    line,
    line_setup,
    live_values,
    site,
    states,
)

pytestmark = [pytest.mark.browser, pytest.mark.timeout(120)]

expect.set_options(timeout=20_000)

EACH_SIZE = pytest.mark.parametrize("size", SIZES)


def many() -> SiteFacts:
    """A site of three lines on a fast clock."""
    found = states()
    kitchen = msgspec.structs.replace(found["past"], setup=line_setup(line_id="kitchen"))
    roastery = msgspec.structs.replace(found["due"], setup=line_setup(line_id="roastery"))
    return site(found["right"], kitchen, roastery, speed=1440.0)


def open_page(page: Page, shown: Shown, facts: SiteFacts, size: str, query: str = "") -> None:
    """Show these facts at this size; problems of the browser become failures."""
    width, height = SIZES[size]
    page.set_viewport_size({"width": width, "height": height})
    page.on("pageerror", lambda error: pytest.fail(str(error)))
    page.on("console", lambda said: pytest.fail(said.text) if said.type == "error" else None)
    shown.source.held = facts
    page.goto(shown.address + query)


@EACH_SIZE
def test_sentence_and_figures_are_there(page: Page, shown: Shown, size: str) -> None:
    """The sentence stands first, and every figure has its unit, range and age."""
    open_page(page, shown, site(line()), size)

    expect(page.get_by_role("heading", level=1)).to_have_text("The water is right.")
    expect(page.locator(".then")).to_contain_text("likely until Thursday 14 May (10–18\u202fMay).")
    expect(page.locator(".then .sum")).to_have_text("1\u202f240 litres")
    for name, value in (
        ("Hardness, to the machine", "7.0\u202f°dH (6.6–7.5)"),
        ("Conductivity behind the filter", "412\u202fµS/cm (402–422)"),
        ("Temperature", "17.4\u202f°C (16.9–17.9)"),
        ("Flow now", "1.42\u202fL/min (1.35–1.49)"),
    ):
        row = page.locator("dl > div").filter(has_text=name)
        expect(row).to_contain_text(value)
        expect(row).to_contain_text("ago")
    expect(page.locator(".litres")).to_contain_text("62\u202fL (59–65)")


@EACH_SIZE
@pytest.mark.parametrize("name", [*states(), "many"])
def test_nothing_runs_over_in_any_state(page: Page, shown: Shown, size: str, name: str) -> None:
    """No page scrolls sideways, no words leave a drawing or lie over each other."""
    facts = many() if name == "many" else site(states()[name])
    open_page(page, shown, facts, size)

    assert page.evaluate("document.documentElement.scrollWidth") == SIZES[size][0]
    assert page.evaluate(OVERLAPS) == []


@EACH_SIZE
@pytest.mark.parametrize("unit", ["mg/L CaCO3", "mmol/L"])
def test_longest_units_fit(page: Page, shown: Shown, size: str, unit: str) -> None:
    """The drawings hold the longest unit too, at every bypass share."""
    for bypass in (None, 0.03, 0.15, 0.5):
        facts = site(line(estimate(bypass=bypass, raw_dh=28.0, outlet_dh=14.0)))
        open_page(page, shown, facts, size, f"?units={unit}")
        assert page.evaluate(OVERLAPS) == []


@EACH_SIZE
@pytest.mark.parametrize("name", ["right", "past", "unknown", "silent", "many"])
@pytest.mark.parametrize("look", ["light", "dark"])
def test_axe_finds_nothing_serious(
    page: Page, shown: Shown, size: str, name: str, look: str
) -> None:
    """axe has no serious or critical finding, light or dark."""
    facts = many() if name == "many" else site(states()[name])
    open_page(page, shown, facts, size, f"?look={look}")
    found = Axe().run(page).response["violations"]

    assert [v["id"] for v in found if v["impact"] in ("serious", "critical")] == []


@EACH_SIZE
@pytest.mark.parametrize("name", ["right", "past", "many"])
def test_targets_are_large_enough_for_wet_hands(
    page: Page, shown: Shown, size: str, name: str
) -> None:
    """Every link that is not in running text is at least 44 px high."""
    open_page(page, shown, many() if name == "many" else site(states()[name]), size)
    low = page.evaluate(
        """() => [...document.querySelectorAll('a:not(.skip)')]
             .filter(a => a.getBoundingClientRect().height < 43.9).map(a => a.textContent.trim())"""
    )

    assert low == []


def test_live_figure_arrives(page: Page, shown: Shown) -> None:
    """A new reading replaces the old one on the open page without loading it again."""
    open_page(page, shown, site(line()), "desktop")
    page.evaluate("window.stillHere = true")
    expect(page.locator("[data-link]")).to_have_text("live")
    shown.source.held = site(line(live=live_values(ec=433.0)))

    expect(page.locator('dd [data-live="ec-out.value"]')).to_have_text("433\u202fµS/cm")
    assert page.evaluate("window.stillHere")


def test_new_state_redraws_the_page_and_is_spoken(page: Page, shown: Shown) -> None:
    """A new state brings a new sentence, drawing and alarms, and is announced once."""
    open_page(page, shown, site(line()), "desktop")
    expect(page.locator("[data-link]")).to_have_text("live")
    shown.source.held = site(states()["past"])

    expect(page.get_by_role("heading", level=1)).to_have_text("Change the cartridge now.")
    expect(page.locator(".only-wide .bed .past-word")).to_have_text("past")
    expect(page.locator(".alarms")).to_contain_text("Hardness comes through the filter.")
    expect(page.locator("[data-spoken]")).to_contain_text("Change the cartridge now.")
    assert page.locator("[aria-live]").count() == 1
    assert page.title().startswith("Change the cartridge now.")


def test_page_says_when_it_is_not_live_and_comes_back(page: Page) -> None:
    """When the server goes the page says so; when it is back the page is live again."""
    source = FixedSource(site(line()))
    serving = Serving(source)
    page.goto(serving.address)
    expect(page.locator("[data-link]")).to_have_text("live")
    serving.stop()
    expect(page.locator("[data-link]")).to_have_text("not live")
    source.held = site(line(live=live_values(ec=433.0)))
    again = Serving(source, serving.port)

    expect(page.locator("[data-link]")).to_have_text("live")
    expect(page.locator('dd [data-live="ec-out.value"]')).to_have_text("433\u202fµS/cm")
    again.stop()


@pytest.mark.parametrize("context", [{"java_script_enabled": False}], indirect=True)
@EACH_SIZE
def test_page_is_whole_without_script(page: Page, shown: Shown, size: str) -> None:
    """Without script everything stands there, and a link reads it again."""
    open_page(page, shown, site(line()), size)
    expect(page.locator(".then")).to_contain_text("1\u202f240 litres")
    expect(page.locator(f".only-{'wide' if size == 'desktop' else 'phone'} .bed")).to_be_visible()
    shown.source.held = site(line(live=live_values(ec=450.0)))
    page.get_by_role("link", name="Read again").click()

    expect(page.locator('dd [data-live="ec-out.value"]')).to_have_text("450\u202fµS/cm")
    assert page.locator(".link").inner_text() == ""


@pytest.mark.parametrize("context", [{"color_scheme": "dark"}], indirect=True)
def test_dark_follows_the_device_and_the_choice(page: Page, shown: Shown) -> None:
    """A dark device gets dark paper; choosing light overrules it."""
    paper = "getComputedStyle(document.body).backgroundColor"
    open_page(page, shown, site(line()), "desktop")
    assert page.evaluate(paper) == "rgb(16, 25, 28)"
    page.get_by_role("link", name="light").click()

    expect(page.locator("html")).to_have_attribute("data-look", "light")
    assert page.evaluate(paper) == "rgb(247, 244, 236)"


@EACH_SIZE
def test_one_size_of_each_drawing_is_seen(page: Page, shown: Shown, size: str) -> None:
    """The wide drawing on a desktop, the small one on a phone, its text never scaled."""
    open_page(page, shown, site(line()), size)
    seen, hidden = ("wide", "phone") if size == "desktop" else ("phone", "wide")

    expect(page.locator(f".only-{seen} .bed")).to_be_visible()
    expect(page.locator(f".only-{hidden} .bed")).to_be_hidden()
    scale = page.evaluate(
        "s => { const e = document.querySelector(s); "
        "return e.getBoundingClientRect().width / e.viewBox.baseVal.width }",
        f".only-{seen} .bed",
    )
    assert scale == pytest.approx(1.0, abs=0.001)


def test_beads_are_painted_as_told(page: Page, shown: Shown) -> None:
    """The browser really dashes each stretch into as many discs as there are beads."""
    open_page(page, shown, site(line()), "desktop")
    fresh = page.evaluate(
        """() => document.querySelector('#bf').getAttribute('d').match(/h(\\d+)/g)
             .reduce((n, h) => n + (Number(h.slice(1)) - 1) / 16 + 1, 0)"""
    )
    colour = page.evaluate("getComputedStyle(document.querySelector('use.b-full')).stroke")

    rows = estimate().used_rows
    expected = sum(
        not beads.is_spent(row, bead, chance)
        for row, chance in enumerate(rows)
        for bead in range(beads.beads_in(row))
    )
    assert fresh == expected
    assert colour == "rgb(174, 108, 18)"


def test_wall_shows_only_what_is_read_from_afar(page: Page, shown: Shown) -> None:
    """On the wall the sentence is 104 px, the fact 56 px, and nothing stands below the bed."""
    open_page(page, shown, site(line()), "desktop", "?wall")
    size = "s => getComputedStyle(document.querySelector(s)).fontSize"

    assert page.evaluate(size, "h1") == "104px"
    assert page.evaluate(size, ".then") == "56px"
    expect(page.locator(".only-wide .bed")).to_be_visible()
    expect(page.locator("[data-part=water]")).to_be_hidden()
    expect(page.locator(".litres")).to_be_hidden()


def test_print_has_the_small_drawing_with_its_words(page: Page, shown: Shown) -> None:
    """Paper has no links to choose from, the small drawing, and its sentences as a caption."""
    open_page(page, shown, site(line()), "desktop")
    page.emulate_media(media="print", color_scheme="dark")

    expect(page.locator(".only-phone .bed")).to_be_visible()
    expect(page.locator(".contents")).to_be_hidden()
    expect(page.locator(".choices")).to_be_hidden()
    expect(page.locator("#bed-said")).to_be_visible()
    caption = page.locator("#bed-said").bounding_box()
    assert caption is not None
    assert caption["x"] > 0
    assert page.evaluate("getComputedStyle(document.body).backgroundColor") == "rgb(255, 255, 255)"


def test_keyboard_reaches_every_link_with_a_ring(page: Page, shown: Shown) -> None:
    """Tab walks through skip link, links and choices; the focus is seen."""
    open_page(page, shown, many(), "desktop")
    seen = []
    for _ in range(page.locator("a").count()):
        page.keyboard.press("Tab")
        seen.append(page.evaluate("document.activeElement.textContent.trim()"))
        assert page.evaluate("getComputedStyle(document.activeElement).outlineStyle") == "solid"

    assert seen[0] == "To the contents"
    assert any(text.startswith("kitchen: Change now") for text in seen)
    assert "°fH" in seen


def test_line_link_leads_to_that_line(page: Page, shown: Shown) -> None:
    """The list of lines leads to each line's own page, which stays live for that line."""
    open_page(page, shown, many(), "phone")
    expect(page.get_by_role("heading", level=1)).to_have_text("Change the cartridge now.")
    page.get_by_role("link", name="bar: Right").click()

    expect(page.get_by_role("heading", level=1)).to_have_text("The water is right.")
    expect(page.locator("[data-link]")).to_have_text("live")
    assert page.evaluate("document.body.dataset.stream") == "/live?line=bar"


def test_nothing_is_asked_of_another_host(page: Page, shown: Shown) -> None:
    """Every request of the page goes to its own host."""
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    open_page(page, shown, site(line()), "desktop")
    expect(page.locator("[data-link]")).to_have_text("live")
    home = shown.address.removesuffix("/now")

    assert len(asked) >= 4
    assert all(url.startswith(home) for url in asked)
