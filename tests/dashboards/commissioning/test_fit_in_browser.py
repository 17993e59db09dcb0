"""The whole sequence on a phone, by only reading the screen: with script and without."""

from __future__ import annotations

from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, expect

from analytics.samples import (
    BypassSet,
    CartridgeFitted,
    CrossZero,
    DropTest,
    KFactorSet,
    Note,
    ProbeCalibrated,
)
from tests.dashboards.access.served import NAME, PASSWORD
from tests.dashboards.browsing import OVERLAPS
from tests.dashboards.commissioning.rig import Rig

pytestmark = [pytest.mark.browser, pytest.mark.timeout(400)]
expect.set_options(timeout=20_000)

SMALL = """
() => [...document.querySelectorAll('main button:not(.unseen), main input, main select')]
  .filter(e => e.type !== 'hidden' && e.getBoundingClientRect().height > 0)
  .filter(e => e.getBoundingClientRect().height < 63)
  .map(e => e.textContent || e.name)
"""


class Installer:
    """Somebody with a phone under a counter."""

    def __init__(self, page: Page, rig: Rig, address: str, *, script: bool) -> None:
        self.page, self.rig, self.address, self.script = page, rig, address, script
        self.axe = Axe()
        page.on("pageerror", lambda error: pytest.fail(str(error)))

    def sign_in(self) -> None:
        """With name and password; then at the first step."""
        self.page.goto(f"{self.address}/sign-in?then=/more")
        self.page.get_by_label("Your name").fill(NAME)
        self.page.get_by_label("Your password").fill(PASSWORD)
        self.page.locator("main form button").click()
        self.page.get_by_role("link", name="Fitting").click()

    def reads(self, sentence: str) -> None:
        """What the sheet says; then everything about it is looked at."""
        expect(self.page.get_by_role("heading", level=1)).to_have_text(sentence)
        wide = self.page.evaluate("document.documentElement.scrollWidth")
        assert wide <= 390, sentence
        assert self.page.evaluate(OVERLAPS) == [], sentence
        assert self.page.evaluate(SMALL) == [], sentence
        assert self.page.locator("main .filled:visible, main .drop:visible").count() <= 1, sentence
        if self.script:
            found = self.axe.run(self.page).response["violations"]
            bad = [v["id"] for v in found if v["impact"] in ("serious", "critical")]
            assert bad == [], sentence

    def press(self, words: str) -> None:
        """A button, by its words; until the box has answered."""
        turn = self.page.locator("main").get_attribute("data-turn")
        self.page.get_by_role("button", name=words, exact=True).first.click()
        expect(self.page.locator("main")).not_to_have_attribute("data-turn", turn or "")

    def count(self, *counts: int) -> None:
        """Drops by the button, or by the space bar; then the colour turns."""
        for drops in counts:
            for n in range(1, drops + 1):
                if self.script:
                    self.page.keyboard.press("Space")
                else:
                    self.press("One drop")
                    expect(self.page.locator(".fit-drops path")).to_have_count(n)
            expect(self.page.locator(".fit-drops path")).to_have_count(drops)
            self.press("It has turned")

    def meters(self, outlet: float, inlet: float | None = None, **more: float) -> None:
        """The meters say this for a while."""
        self.rig.water(outlet, inlet, **more)  # type: ignore[arg-type]
        if not self.script:
            self.page.get_by_role("link", name="Read again").click()


def walk_through(person: Installer) -> None:
    """From the first step to the record."""
    person.sign_in()
    person.reads("Shut the water off, fit the head and the cartridge, then flush to drain.")
    person.press("The tap opens: count")
    person.meters(400.0, 650.0, pulses=4950)
    person.reads("Let it run to drain.")
    expect(person.page.get_by_text("11.0\u202fL")).to_be_visible()
    person.press("Flushed, all joints dry")
    person.reads("Write down which cartridge went in.")
    person.page.get_by_label("Serial number").fill("H-2231")
    person.press("It is in: write it down")
    person.reads("Total hardness: count the drops, first time.")
    person.count(3, 3)
    raw_water(person)
    probes(person)
    jugs(person)
    blend(person)


def raw_water(person: Installer) -> None:
    """Raw water, then the proposal."""
    person.reads("Alkalinity: count the drops, first time.")
    person.count(2)
    person.page.get_by_text("I have a figure instead").click()
    person.page.get_by_label("Alkalinity").fill("13")
    person.press("Take it")
    person.reads("Raw water is counted.")
    person.page.get_by_label("Chloride").fill("18")
    person.press("Count anew: Total hardness")
    person.page.get_by_text("I have a figure instead").click()
    person.page.get_by_label("Total hardness").fill("15")
    person.press("Take it")
    person.page.get_by_label("Chloride").fill("18")
    person.press("Write it down")
    expect(person.page.locator("svg.plane:visible")).to_be_visible()
    person.press("more: Bypass")
    person.reads("25 % round the bed puts this water in the window.")
    person.press("Take 25 %")


def probes(person: Installer) -> None:
    """Dry, in a standard, in raw water."""
    person.meters(0.4, 0.5)
    person.reads("Hold the outlet probe in the air, dry.")
    expect(person.page.locator("[data-live-fit=outlet]")).to_have_text("0.4\u202fµS/cm")
    person.press("It is dry: take it")
    person.press("It is dry: take it")
    person.reads("It passes.")
    person.press("Pass: next step")
    person.rig.standard()
    if not person.script:
        person.page.get_by_role("link", name="Read again").click()
    for probe in ("outlet", "inlet"):
        person.reads(f"Put the {probe} probe in fresh 1413 standard.")
        person.page.locator("main [name=temp]:visible").fill("22")
        person.press("It stands: take it")
    person.press("Pass: next step")
    person.meters(520.0, 520.0)
    person.reads("Put both probes in one jug of raw water.")
    person.press("It stands: take it")
    person.press("Pass: next step")


def jugs(person: Installer) -> None:
    """Three at full flow, three in a thin stream; one is thrown away."""
    person.reads("Draw the first jug, tap wide open.")
    person.press("I fill a jug now")
    person.press("Throw it away, draw again")
    for pulses in (905, 911, 907, 890, 885, 893):
        person.press("I fill a jug now")
        person.meters(400.0, 520.0, pulses=pulses)
        expect(person.page.locator("[data-live-fit=pulses]")).to_have_text(str(pulses))
        person.press("Full: count this jug")
    person.reads("It passes.")
    person.press("Pass: next step")


def blend(person: Installer) -> None:
    """The head is set, the blend tested, turned once, tested again; then it runs."""
    person.reads("Set the bypass to 25 %.")
    person.press("It is set")
    for figure in ("14", "10"):
        person.page.get_by_text("I have a figure instead").click()
        person.page.locator("main [name=value]").fill(figure)
        person.press("Take it")
    person.reads("Too hard: turn the bypass down.")
    person.press("more: The head stands at")
    person.press("Turned: test again")
    person.count(6, 6)
    person.reads("Alkalinity: count the drops, first time.")
    person.count(4, 4)
    person.reads("The blended water is as it should be.")
    person.press("Pass: write it down")
    person.meters(300.0, 520.0)
    person.reads("Let it run until the outlet stands.")
    person.press("It stands: take it")
    person.press("Pass: next step")
    person.reads("All is done. Hand it over.")
    person.press("I hand it over")
    person.reads("Handed over.")


@pytest.mark.parametrize("script", [True, False], ids=["script", "no-script"])
def test_the_whole_sequence_on_a_phone(browser: Browser, tmp_path: Path, script: bool) -> None:
    """Every step by what the screen says; every accepted result is a dated fact with who."""
    rig = Rig(tmp_path)
    context = browser.new_context(
        viewport={"width": 390, "height": 844}, java_script_enabled=script
    )
    context.set_default_timeout(20_000)
    with rig.pages() as address:
        walk_through(Installer(context.new_page(), rig, address, script=script))
        context.close()
        entries = rig.reader.logbook()
    kinds = [type(entry.event) for entry in entries]

    assert kinds.count(CartridgeFitted) == 1
    assert kinds.count(DropTest) == 3
    assert kinds.count(ProbeCalibrated) == 2
    assert kinds.count(BypassSet) == 2
    assert {CrossZero, KFactorSet, Note} <= set(kinds)
    assert all(entry.event.who == NAME for entry in entries)
    assert not any(entry.withdrawn_by for entry in entries)
