"""The page Alarms in a real browser. Kept apart: a browser holds the event loop of its file."""

from __future__ import annotations

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page

from tests.dashboards.acts.alarm_facts import FACTS
from tests.dashboards.browsing import OVERLAPS
from tests.dashboards.conftest import SIZES, Serving
from tests.dashboards.specimens import FixedSource


@pytest.mark.browser
@pytest.mark.timeout(120)
@pytest.mark.parametrize("size", SIZES)
def test_page_fits_and_can_be_used_by_everybody(page: Page, size: str) -> None:
    """No sideways scroll at either width; axe finds nothing serious."""
    serving = Serving(FixedSource(FACTS))
    try:
        width, height = SIZES[size]
        page.set_viewport_size({"width": width, "height": height})
        page.goto(serving.address.removesuffix("/now") + "/alarms")
        found = Axe().run(page).response["violations"]

        assert page.evaluate("document.documentElement.scrollWidth") == width
        assert page.evaluate(OVERLAPS) == []
        assert [v["id"] for v in found if v["impact"] in ("serious", "critical")] == []
    finally:
        serving.stop()
