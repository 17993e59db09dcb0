"""The wiring guide: cautions first, pins as the program has them, drawings that can be read."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page

from firmware_bridge.firmware.board import settings
from tests.dashboards.conftest import SIZES, Shown
from tests.dashboards.test_now_in_browser import OVERLAPS

pytestmark = [pytest.mark.browser, pytest.mark.timeout(120)]


def open_guide(page: Page, shown: Shown, size: str = "desktop", look: str = "") -> None:
    """Show the guide."""
    width, height = SIZES[size]
    page.set_viewport_size({"width": width, "height": height})
    page.goto(shown.address.removesuffix("/now") + f"/guide/wiring{look}")


def test_cautions_stand_before_the_drawings(page: Page, shown: Shown) -> None:
    """Electricity and drinking water come before the first thing to do."""
    open_guide(page, shown)

    headings = page.locator("h2").all_inner_texts()

    assert headings[:2] == ["Electricity", "Drinking water"]
    said = page.locator("main").inner_text()
    for word in ("Pull the plug", "low voltage", "licensed plumber", "approved for drinking water"):
        assert word in said
    assert "reads them in turn" in re.sub(r"\s+", " ", said)


def test_pins_are_those_of_the_program(page: Page, shown: Shown) -> None:
    """The table and the drawings have the numbers of the settings that are copied to a board."""
    open_guide(page, shown)

    table = page.locator("dl.figures").inner_text()
    drawn = page.locator("svg").all_text_contents()

    front, back, adc = settings.OUTLET_PROBE
    assert ", ".join(map(str, (*front, back, adc))) in table
    for pin in (*front, back, adc):
        assert f"GPIO {pin}" in "".join(drawn)
    assert f"GPIO {settings.OUTLET_THERMOMETER}" in "".join(drawn)


@pytest.mark.parametrize("size", SIZES)
def test_no_label_lies_over_another(page: Page, shown: Shown, size: str) -> None:
    """On a desk and on a phone every word of the drawings can be read, and nothing runs over."""
    open_guide(page, shown, size)

    assert page.evaluate(OVERLAPS) == []
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")


@pytest.mark.parametrize("look", ["?look=light", "?look=dark"])
def test_the_guide_can_be_used_by_all(page: Page, shown: Shown, look: str) -> None:
    """No fault that a checker of accessibility finds, in either look."""
    open_guide(page, shown, look=look)

    found = Axe().run(page)

    assert found.response["violations"] == []


def test_the_guide_prints_on_a_few_sheets(page: Page, shown: Shown, tmp_path: Path) -> None:
    """Paper: a handful of pages, without the choices of the screen."""
    open_guide(page, shown)
    page.emulate_media(media="print")

    printed = page.pdf(format="A4")

    assert 2 <= len(re.findall(rb"/Type\s*/Page\b", printed)) <= 5
    assert not page.locator(".choices").is_visible()
