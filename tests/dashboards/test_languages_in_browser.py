"""Every page in every language, on a wall tablet and on a phone: nothing runs over, nothing is cut
off, nothing stands there in English by a slip."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

import pytest
from playwright.sync_api import Browser, Page

from analytics.samples import (
    DAY_MS,
    AlarmChange,
    BypassSet,
    CartridgeFitted,
    Closure,
    DropTest,
    Point,
    ProbeCalibrated,
)
from dashboards.acts.forms import forms
from dashboards.commissioning.steps import STEPS
from dashboards.page import pages
from dashboards.phrases.language import FALLBACK, codes
from firmware_bridge.store.batch import Batch
from tests.dashboards.access.served import NAME, PASSWORD
from tests.dashboards.browsing import LAID_OUT, OVERLAPS
from tests.dashboards.commissioning.rig import START_MS, Rig
from tests.dashboards.conftest import SIZES, Serving
from tests.dashboards.specimens import DH, FixedSource, estimate, line, site, states

pytestmark = [
    pytest.mark.browser,
    pytest.mark.timeout(300),
    pytest.mark.xdist_group("languages"),
]

EACH = pytest.mark.parametrize("code", codes())
ENGLISH_ONLY = re.compile(r"\b(the|and|of|with|this|from|what|is|are|not|been|which)\b", re.I)
"""Words that none of the other languages has."""
SITE_WORDS = ("Harbour Steps", "Northgate Water Care", site(line()).setup.what)


class Looker:
    """Opens pages in one language and collects what is wrong with them."""

    def __init__(self, page: Page, address: str, code: str) -> None:
        self.page, self.address, self.code = page, address, code
        self.faults: list[str] = []
        self.told: tuple[str, ...] = ()
        page.on("pageerror", lambda error: self.faults.append(str(error)))
        page.context.add_cookies([{"name": "lang", "value": code, "url": address}])

    def look(self, path: str, *sizes: str) -> None:
        """Look at one page at these sizes."""
        for size in sizes:
            width, height = SIZES[size]
            self.page.set_viewport_size({"width": width, "height": height})
            if size == sizes[0]:
                self.page.goto(self.address + path, wait_until="load")
            self._judge(f"{path} {size}")

    def _judge(self, where: str) -> None:
        found = self.page.evaluate(LAID_OUT) + self.page.evaluate(OVERLAPS)
        if self.page.evaluate("document.documentElement.lang") != self.code:
            found.append("lang is another")
        if self.code != FALLBACK:
            text = self.page.evaluate("document.body.innerText")
            for words in (*SITE_WORDS, *self.told):
                text = text.replace(words, "")
            found += [f"English: {line}" for line in text.splitlines() if ENGLISH_ONLY.search(line)]
        self.faults += [f"{where}: {fault}" for fault in found]


def _nine_days() -> Batch:
    """What happened on a line: a change, tests, a note, alarms, estimates."""

    def event(kind: type[Any], days_ago: float, **fields: object) -> Any:
        at_ms = START_MS - round(days_ago * DAY_MS)
        return kind(at_ms=at_ms, known_at_ms=at_ms, line_id="bar", who=NAME, **fields)

    stood = [("outlet-hardness-high", 8, "raised"), ("outlet-hardness-high", 6, "cleared")]
    stood += [("leak", 2, "raised"), ("no-flow", 1, "raised"), ("no-flow", 0.5, "shelved")]
    return Batch(
        events=(
            event(CartridgeFitted, 8.9, cartridge_id="H-2231"),
            event(BypassSet, 8.8, share=0.3),
            event(DropTest, 5, point=Point.BLENDED, hardness_mmol_l=7 * DH, alkalinity_meq_l=2.0),
            event(ProbeCalibrated, 4, probe="outlet", gain=0.98, relative_sd=0.01),
            event(Closure, 3, until_ms=START_MS - 2 * DAY_MS),
        ),
        alarms=tuple(
            ("bar", AlarmChange(at_ms=START_MS - round(days * DAY_MS), alarm=name, change=change,
                                priority="high"))
            for name, days, change in stood
        ),
        estimates=tuple(
            ("bar", estimate(0.05 * n, at_ms=START_MS - (9 - n) * DAY_MS, reason=""))
            for n in range(9)
        ),
    )  # fmt: skip


@pytest.fixture(scope="module")
def rig(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """A running site with rows, a cartridge, tests, notes; its address."""
    made = Rig(tmp_path_factory.mktemp("languages"))
    made.water(412.0, 640.0, pulses=900)
    made.store.submit(_nine_days()).result(20)
    with made.pages() as address:
        yield address


@pytest.fixture(scope="module")
def signed_in(browser: Browser, rig: str) -> Iterator[Page]:
    """Somebody who may write, in one profile for all languages."""
    context = browser.new_context(java_script_enabled=False)
    context.set_default_timeout(20_000)
    page = context.new_page()
    page.goto(f"{rig}/sign-in?then=/more")
    page.locator("input[name=name]").fill(NAME)
    page.locator("input[name=password]").fill(PASSWORD)
    page.locator("main form button").click()
    yield page
    context.close()


@EACH
def test_every_page_holds_every_language(code: str, signed_in: Page, rig: str) -> None:
    """All pages of the contents at both sizes; every form and step of a fitting on a phone."""
    looker = Looker(signed_in, rig, code)
    for path in ("/logbook", *(page.path for page in pages())):
        looker.look(path, *SIZES)
    looker.look("/history?span=week", *SIZES)
    looker.look("/history?span=year", "phone")
    for kind in forms():
        looker.look(f"/act/{kind}", "phone")
    for step in STEPS:
        looker.look(f"/fit?step={step}", "phone")

    assert not looker.faults, "\n".join(looker.faults)


@EACH
def test_now_holds_every_language_in_every_state(code: str, browser: Browser) -> None:
    """Each state of a line, and the page that asks who is there."""
    source = FixedSource(site(line()))
    serving = Serving(source)
    context = browser.new_context(java_script_enabled=False)
    looker = Looker(context.new_page(), serving.address.removesuffix("/now"), code)
    for name, facts in states().items():
        source.held = site(facts)
        told = [facts.estimate.reason] if facts.estimate else []
        looker.told = (*told, *(alarm.text for alarm in facts.alarms))
        looker.look(f"/now?state={name}", *SIZES)
    looker.look("/sign-in", "phone")
    context.close()
    serving.stop()

    assert not looker.faults, "\n".join(looker.faults)
