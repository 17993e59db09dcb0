"""A page that stays open for a whole day."""

from __future__ import annotations

import msgspec
import pytest
from playwright.sync_api import Page, expect

from analytics.samples import DAY_MS, MINUTE_MS
from dashboards.sources import SiteFacts
from tests.dashboards.conftest import served
from tests.dashboards.specimens import NOW_MS, FixedSource, line, live_values, site

pytestmark = [pytest.mark.timeout(120)]

STEP_MS = 10 * MINUTE_MS
STEPS = DAY_MS // STEP_MS


class PassingDay(FixedSource):
    """Ten minutes go by whenever somebody asks, until a day is over; conductivity changes."""

    def facts(self) -> SiteFacts:
        """What is known ten minutes later."""
        self.asked += 1
        step = min(self.asked, STEPS)
        now_ms = NOW_MS + step * STEP_MS
        live = live_values(now_ms, ec=400.0 + (step if step < STEPS else 44) % 90)
        return msgspec.structs.replace(site(line(live=live)), now_ms=now_ms)


def held(page: Page) -> dict[str, float]:
    """What the browser holds for the page after its rubbish is thrown out."""
    devtools = page.context.new_cdp_session(page)
    devtools.send("Performance.enable")
    devtools.send("HeapProfiler.collectGarbage")
    found = devtools.send("Performance.getMetrics")["metrics"]
    devtools.detach()
    return {one["name"]: one["value"] for one in found}


@pytest.mark.browser
def test_page_open_for_a_day_is_still_true_and_no_heavier(page: Page) -> None:
    """A day of messages: the newest figures stand there, the date has turned, nothing piled up."""
    source = PassingDay(site(line()))
    page.on("pageerror", lambda error: pytest.fail(str(error)))
    with served(source, 0.02) as address:
        page.goto(address)
        expect(page.locator("[data-link]")).to_have_text("live")
        first = held(page)
        expect(page.locator("[data-live=clock]")).to_have_text("14:32")
        expect(page.locator('dd [data-live="ec-out.value"]')).to_have_text("444\u202fµS/cm")
        expect(page.locator(".week text").filter(has_text="Wed").first).to_be_attached()
        last = held(page)

    assert source.asked >= STEPS
    assert last["Nodes"] <= 1.1 * first["Nodes"] + 50
    assert last["JSEventListeners"] <= first["JSEventListeners"]
    assert last["JSHeapUsedSize"] <= first["JSHeapUsedSize"] + 1_000_000
