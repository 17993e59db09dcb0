"""History in a real browser: by keyboard, by pull, without script, on a phone."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect

from analytics.chemistry.temperature import f25_where_defined
from analytics.draws import Gate, Run, find_draws
from analytics.samples import (
    DAY_MS,
    HOUR_MS,
    AlarmChange,
    BypassSet,
    CartridgeFitted,
    DropTest,
    Point,
    Spread,
)
from tests.dashboards.browsing import OVERLAPS
from tests.dashboards.conftest import SIZES, Serving
from tests.dashboards.specimens import DH, estimate
from tests.dashboards.stored_site import NOW_MS, Site, event, minutes

pytestmark = [pytest.mark.browser, pytest.mark.timeout(120)]
expect.set_options(timeout=20_000)
EACH_SIZE = pytest.mark.parametrize("size", SIZES)


@pytest.fixture
def address(place: Site) -> Iterator[str]:
    """A served site with nine days of rows, a change, an alarm, tests and a silent day."""
    rows = minutes()
    quiet = (rows.at_ms > NOW_MS - 4 * DAY_MS) & (rows.at_ms < NOW_MS - 3 * DAY_MS)
    rows = rows.pick(np.flatnonzero(~quiet))
    draws = find_draws(
        Run(), rows, int(rows.at_ms[-1]) + HOUR_MS, Gate.at(1000.0), f25_where_defined
    )[1]
    place.keep_rows(rows)
    stood = ((8, "raised"), (6, "cleared"))
    alarms = tuple(
        ("bar", AlarmChange(at_ms=NOW_MS - days * DAY_MS, alarm="outlet-hardness-high",
                            change=change, priority="high", text="hard"))
        for days, change in stood
    )  # fmt: skip
    figures = tuple(
        ("bar", estimate(0.02 * n, at_ms=NOW_MS - (9 - n // 4) * DAY_MS + n % 4 * 6 * HOUR_MS,
                         outlet_mmol_l=Spread(p50=1.2, p05=1.1, p95=1.4)))
        for n in range(36)
    )  # fmt: skip
    place.keep(
        draws=(("bar", "", draws),),
        alarms=alarms,
        estimates=figures,
        events=(
            event(CartridgeFitted, 8.9, cartridge_id="first"),
            event(BypassSet, 8.8, share=0.3),
            event(DropTest, 5, point=Point.BLENDED, hardness_mmol_l=7 * DH, alkalinity_meq_l=2.0),
        ),
    )
    serving = Serving(place.source)
    yield serving.address.removesuffix("/now")
    serving.stop()


def opened(page: Page, address: str, query: str, size: str = "desktop") -> None:
    """Show the page; problems of the browser become failures."""
    width, height = SIZES[size]
    page.set_viewport_size({"width": width, "height": height})
    page.on("pageerror", lambda error: pytest.fail(str(error)))
    page.on("console", lambda said: pytest.fail(said.text) if said.type == "error" else None)
    page.goto(f"{address}/history{query}")


@EACH_SIZE
@pytest.mark.parametrize("span", ["hour", "day", "week", "90-days", "year", "all"])
def test_every_span_fits_at_both_sizes(page: Page, address: str, size: str, span: str) -> None:
    """No page scrolls sideways, no words leave the drawing or lie over each other."""
    opened(page, address, f"?span={span}", size)

    assert page.evaluate("document.documentElement.scrollWidth") == SIZES[size][0]
    assert page.evaluate(OVERLAPS) == []
    expect(page.locator("svg.history:visible")).to_have_count(1)


@EACH_SIZE
def test_nothing_serious_for_those_who_cannot_see_or_point(
    page: Page, address: str, size: str
) -> None:
    """axe finds nothing serious or critical."""
    opened(page, address, "?span=week", size)
    found = Axe().run(page).response["violations"]

    assert [v["id"] for v in found if v["impact"] in ("serious", "critical")] == []


def test_mark_moves_by_keyboard_and_says_its_figures(page: Page, address: str) -> None:
    """The range under the drawing moves the mark; the margin and a screen reader get the bin."""
    opened(page, address, "?span=week")
    slider = page.get_by_role("slider")
    before = page.locator("svg.history:visible [data-reading]").get_attribute("transform")
    slider.focus()
    for _ in range(30):
        page.keyboard.press("ArrowLeft")

    expect(page.locator("svg.history:visible [data-reading]")).not_to_have_attribute(
        "transform", before or ""
    )
    expect(page.locator("[data-readout]")).to_contain_text("drawn")
    expect(page.locator("[data-readout]")).to_contain_text("µS/cm")
    expect(slider).to_have_attribute("aria-valuetext", _words(page))


def _words(page: Page) -> str:
    return ", ".join(page.locator("[data-readout] > span").all_inner_texts())


def test_plus_and_minus_go_closer_and_wider(page: Page, address: str) -> None:
    """With the mark in hand the keyboard zooms."""
    opened(page, address, "?span=week")
    page.get_by_role("slider").focus()
    page.keyboard.press("+")
    page.wait_for_url("**from=**")

    assert "span=week" not in page.url


def test_pull_over_the_drawing_picks_that_span(page: Page, address: str) -> None:
    """What lies between pressing and letting go is what is shown next."""
    opened(page, address, "?span=week")
    drawing = page.locator("svg.history:visible")
    drawing.scroll_into_view_if_needed()
    box = drawing.bounding_box()
    assert box is not None
    with page.expect_response("**/history/figures.json**"):
        page.mouse.move(box["x"] + 200, box["y"] + 200)
    page.mouse.down()
    page.mouse.move(box["x"] + 500, box["y"] + 210, steps=4)
    page.mouse.up()
    page.wait_for_url("**from=**")

    pulled = page.evaluate(
        "Date.parse(document.querySelector('[name=to]').value)"
        " - Date.parse(document.querySelector('[name=from]').value)"
    )
    assert pulled == pytest.approx(7 * DAY_MS * 300 / 856, rel=0.02)


@pytest.mark.parametrize("context", [{"java_script_enabled": False}], indirect=True)
def test_whole_without_script(page: Page, address: str) -> None:
    """Drawing, mark, figures, moves, dates and CSV are there; nothing dead is shown."""
    page.goto(f"{address}/history?span=week")

    expect(page.locator("svg.history:visible")).to_have_count(1)
    expect(page.locator("[data-readout]")).to_contain_text("µS/cm")
    expect(page.get_by_role("slider")).to_have_count(0)
    page.get_by_role("link", name="Earlier").click()
    assert "from=" in page.url
    with page.expect_download() as given:
        page.get_by_role("link", name="CSV of this").click()
    assert given.value.suggested_filename == "history.csv"


def test_words_of_the_drawing_name_what_happened(page: Page, address: str) -> None:
    """Change, bypass, alarm and silence stand on the axis in words."""
    opened(page, address, "?span=all")
    words = " ".join(page.locator("svg.history:visible text").all_text_contents())

    for wanted in ("changed", "bypass set to 30", "alarm", "no word from the meters"):
        assert wanted in words
