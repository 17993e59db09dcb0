"""As its user would: a password from the shell, a sign-in on a phone, a drop test."""

from __future__ import annotations

import datetime as dt
import subprocess
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from playwright.sync_api import Page, expect, sync_playwright

from tests.dashboards.conftest import ARGUMENTS, CHROMIUM, SIZES
from tests.end_to_end.commands import COMMAND, once, running
from tests.end_to_end.test_run_command import node, site_file

pytestmark = [pytest.mark.browser, pytest.mark.timeout(240)]
FITTED = """
[[dated]]
kind = "cartridge-fitted"
at = {at}
litres_before = "new"
"""


def write(page: Page, point: str, hardness: str, alkalinity: str) -> None:
    """Write down a drop test of this morning: its hours are over, so that they are worked over."""
    page.get_by_role("link", name="Logbook").click()
    page.get_by_role("link", name="Drop test").first.click()
    page.get_by_label("Where was the water taken?").select_option(point)
    page.get_by_label("Total hardness").fill(hardness)
    page.get_by_label("Carbonate hardness").fill(alkalinity)
    earlier = dt.datetime.now(ZoneInfo("Europe/London")) - dt.timedelta(hours=3)
    page.get_by_label("When, by the clock here").fill(earlier.strftime("%Y-%m-%dT%H:%M"))
    page.get_by_role("button", name="Write down").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Logbook")


def test_drop_test_on_a_phone_is_written_down(tmp_path: Path) -> None:
    """The page asks for one; the logbook knows who did it, on the page and in the shell."""
    width, height = SIZES["phone"]
    with node(tmp_path / "tty") as pair:
        path = site_file(tmp_path, pair.port)
        yesterday = dt.datetime.now(dt.UTC).replace(microsecond=0) - dt.timedelta(days=1)
        fitted = FITTED.format(at=yesterday.isoformat())
        path.write_text(path.read_text().replace('start = "new"\n', "") + fitted)
        people = [str(COMMAND), "people", str(path), "add", "Ada"]
        subprocess.run(people, input="three wet grinders\n", text=True, check=True, timeout=60)
        with running("run", str(path)) as daemon, sync_playwright() as playwright:
            browser = playwright.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS)
            page = browser.new_page(viewport={"width": width, "height": height})
            page.goto(daemon.page())
            page.get_by_label("Your name").fill("Ada")
            page.get_by_label("Your password").fill("three wet grinders")
            page.get_by_role("button", name="Sign in").click()
            expect(page.get_by_role("heading", level=1)).to_have_text("Not known yet.")
            write(page, "raw", "16", "13")
            expect(page.get_by_text("by Ada").first).to_be_visible()
            expect(page.get_by_text("16.0 °dH").first).to_be_visible()
            browser.close()
            assert daemon.stop() == 0
    book = once("logbook", str(path))

    assert "Drop test | by Ada | Where was the water taken?: raw, before the filter" in book.stdout
    assert "Total hardness: 16.0 °dH" in book.stdout
    assert book.returncode == 0
