"""A café's far corner: a page over a slow network, in a real browser."""

from __future__ import annotations

from typing import Any

import pytest
from playwright.sync_api import Page, expect

from tests.dashboards.conftest import SIZES, Shown
from tests.dashboards.specimens import line, live_values, site

pytestmark = [pytest.mark.browser, pytest.mark.timeout(120)]

expect.set_options(timeout=20_000)

SLOW = {"offline": False, "latency": 400, "downloadThroughput": 6_250, "uploadThroughput": 6_250}
"""50 kbit/s each way and 0.4 s to and fro: the edge of a second-generation mobile network."""
FIRST_LOAD_BYTES = 60_000


def slowed(page: Page, rates: dict[str, Any]) -> list[float]:
    """The page's network at these rates; the bytes of every answer as they come."""
    session = page.context.new_cdp_session(page)
    sizes: list[float] = []
    session.on("Network.loadingFinished", lambda said: sizes.append(said["encodedDataLength"]))
    session.send("Network.enable")
    session.send("Network.emulateNetworkConditions", rates)
    return sizes


def test_now_over_a_slow_network_is_whole_and_light(page: Page, shown: Shown) -> None:
    """All of Now arrives within what a slow network bears, and goes live there."""
    width, height = SIZES["phone"]
    page.set_viewport_size({"width": width, "height": height})
    shown.source.held = site(line())
    sizes = slowed(page, SLOW)
    page.goto(shown.address, wait_until="load")

    expect(page.get_by_role("heading", level=1)).to_have_text("The water is right.")
    expect(page.locator("svg").first).to_be_visible()
    assert 0 < sum(sizes) < FIRST_LOAD_BYTES

    shown.source.held = site(line(live=live_values(ec=433.0)))
    expect(page.locator('dd [data-live="ec-out.value"]')).to_have_text("433\u202fµS/cm")
