"""Pages that stay open: one for a whole day, and fifty at once."""

from __future__ import annotations

import asyncio
from collections.abc import Iterator
from contextlib import contextmanager

import httpx
import msgspec
import pytest
from playwright.sync_api import Page, expect

from analytics.samples import DAY_MS, MINUTE_MS
from dashboards.sources import SiteFacts, SiteSource
from tests.dashboards.conftest import Serving
from tests.dashboards.specimens import NOW_MS, FixedSource, line, live_values, site

pytestmark = [pytest.mark.timeout(120)]

STEP_MS = 10 * MINUTE_MS
STEPS = DAY_MS // STEP_MS
PAGES, MESSAGES = 50, 6


@contextmanager
def served(source: SiteSource, every_s: float) -> Iterator[str]:
    """The address of pages that tell every so often, until left."""
    serving = Serving(source, every_s=every_s)
    try:
        yield serving.address
    finally:
        serving.stop()


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


def test_fifty_open_pages_are_written_once_a_beat() -> None:
    """All pages of a kind get the same bytes; the site is read once a beat, not once a page."""
    source = FixedSource(site(line()))

    async def listen(client: httpx.AsyncClient, url: str) -> list[str]:
        async with client.stream("GET", url) as answer:
            found = []
            async for row in answer.aiter_lines():
                found += [row] if row.startswith("data:") else []
                if len(found) == MESSAGES:
                    break
            return found

    async def all_of_them(url: str) -> list[list[str]]:
        limits = httpx.Limits(max_connections=PAGES)
        async with httpx.AsyncClient(limits=limits, timeout=20.0) as client:
            return await asyncio.gather(*(listen(client, url) for _ in range(PAGES)))

    with served(source, 0.1) as address:
        heard = asyncio.run(all_of_them(address.replace("/now", "/live?line=bar")))

    assert [len(found) for found in heard] == [MESSAGES] * PAGES
    assert len({row for found in heard for row in found}) == 1
    assert source.asked < PAGES + 10 * MESSAGES
