"""The service company's pages in a real browser: phone and desk, script or none, for everybody."""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Iterator

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect

from analytics.samples import DAY_MS
from dashboards.serving import PageServer, listen
from firmware_bridge.forward.broker import MqttOptions
from tests.dashboards.browsing import OVERLAPS
from tests.dashboards.conftest import SIZES
from tests.dashboards.fleet.stocked import NOW_MS, OURS, PASSWORD, Stock
from tests.peers import free_port
from tests.recorded_cartridges import fill

pytestmark = [
    pytest.mark.browser,
    pytest.mark.timeout(120),
    pytest.mark.xdist_group("fleet-browser"),
]

expect.set_options(timeout=20_000)

EVERY = ("/due", "/round", "/parts", "/sites", "/sites?state=unknown", "/doubt", "/learnt", "/more",
         "/people", "/audit", "/guide", "/guide/wiring", "/hooks", "/password", "/site/1/now",
         "/site/1/history", "/site/1/alarms", "/site/1/paper", "/site/1/about")  # fmt: skip
OWN = tuple(path for path in EVERY if path not in ("/more", "/site/1/history", "/site/1/alarms"))
"""Those that the pages of a site do not have, and its first."""
WIDTH = "document.documentElement.scrollWidth"


@pytest.fixture(scope="module")
def office(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """A fleet with a site in every state, served; the address without a path."""
    fleet = Stock(tmp_path_factory.mktemp("office"))
    _fill(fleet)
    listener = listen("127.0.0.1", 0)
    away = fleet.enrolling(MqttOptions(host="127.0.0.1", port=free_port()))
    server = PageServer(fleet.app(away), signals=False)
    thread = threading.Thread(target=lambda: asyncio.run(server.serve(sockets=[listener])))
    thread.start()
    yield f"http://127.0.0.1:{listener.getsockname()[1]}"
    server.stop()
    thread.join(20)
    assert not thread.is_alive()
    fleet.close()


def _fill(fleet: Stock) -> None:
    long = "Observatory Lane Coffee Roasters and Kitchen of the Lower Harbour"
    past = fleet.site("past", name=long, days=-3.0, latitude=51.5, longitude=-0.1, region="quay",
                      customer_no=fleet.customers[OURS], lines=("bar", "kitchen"),
                      box="5f1c0e97a2b44d0b")  # fmt: skip
    fleet.site("soon", name="Customs House", days=3.0, latitude=51.52, longitude=-0.12)
    fleet.site("quiet", name="Pier Nine", days=20.0, heard_ms=NOW_MS - 5 * DAY_MS)
    fleet.site("odd", name="Lantern Yard", days=60.0, trusted=False)
    fleet.site("blank", name="Quay Lane", days=None)
    fleet.site("right", name="Harbour Steps", days=30.0, region="hill")
    fleet.site("box-77f2", name="Somebody", state="unknown", days=None)
    fleet.add("alarms", site_no=past, line="bar", alarm="change-now", state="unacknowledged",
              priority="high", since_ms=NOW_MS, at_ms=NOW_MS)  # fmt: skip
    fleet.add("doubts", site_no=past, line="", doubt="two-boxes", since_ms=NOW_MS,
              body='{"boxes":["5f1c0e97a2b44d0b","77f2a1c09be8443d"]}')  # fmt: skip
    fleet.add("tags", site_no=past, tag="monday")
    fleet.add("names", site_no=past, name="Ida")
    fleet.add("aside", at_ms=NOW_MS, site="x", topic="lastlitre/v1/x/" + 80 * "y",
              reason="its topic is none of ours", payload=b"")  # fmt: skip
    fill(fleet.records, 30, first_site=1001)
    fleet.add("hooks", url="https://example.org/" + 60 * "z", customer_no=None, made_ms=NOW_MS)


def enter(page: Page, office: str, role: str = "owner") -> None:
    """Sign in; problems of the browser become failures."""
    page.on("pageerror", lambda error: pytest.fail(str(error)))
    page.on("console", lambda said: pytest.fail(said.text) if said.type == "error" else None)
    page.goto(f"{office}/sign-in")
    page.get_by_label("Your name").fill(role)
    page.get_by_label("Your password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_url(f"{office}/*")


def _grave(page: Page) -> list[tuple[str, list[str]]]:
    """What axe finds serious or critical, with the first places."""
    found = Axe().run(page).response["violations"]
    return [
        (v["id"], [node["html"] for node in v["nodes"][:2]])
        for v in found
        if v["impact"] in ("serious", "critical")
    ]


@pytest.mark.parametrize("size", SIZES)
def test_every_page_fits(page: Page, office: str, size: str) -> None:
    """Nothing runs off the side, and no text lies over another."""
    width, height = SIZES[size]
    page.set_viewport_size({"width": width, "height": height})
    enter(page, office)
    for path in EVERY:
        page.goto(f"{office}{path}")
        assert page.evaluate(WIDTH) <= width, path
        assert page.evaluate(OVERLAPS) == [], path


def test_every_page_is_in_order_for_everybody(page: Page, office: str) -> None:
    """Names, contrast, order of headings: axe finds nothing serious."""
    enter(page, office)
    for path in OWN:
        page.goto(f"{office}{path}")
        assert _grave(page) == [], path


@pytest.mark.parametrize("context", [{"java_script_enabled": False}], indirect=True)
def test_round_is_planned_with_scripting_off(page: Page, office: str) -> None:
    """From Due to a plan that is kept, one stop taken out, one done."""
    enter(page, office, "dispatcher")
    page.goto(f"{office}/due?next=2026-04-30")
    expect(page.get_by_role("heading", level=1)).to_contain_text("sites on Thursday 30 April.")
    page.get_by_role("link", name="Make the round").click()
    page.get_by_label("take Customs House").uncheck()
    page.get_by_role("button", name="Keep this plan").click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("stops on Thursday 30 April.")
    expect(page.locator("main")).not_to_contain_text("Customs House")
    page.get_by_label("Remark").first.fill("bed changed")
    page.get_by_role("button", name="Done").first.click()
    expect(page.locator("main")).to_contain_text("bed changed")
    page.get_by_role("link", name="Due", exact=True).click()
    expect(page.locator("main")).to_contain_text("Planned for Thu 30 Apr")


@pytest.mark.parametrize("context", [{"color_scheme": "dark"}], indirect=True)
def test_due_can_be_read_in_the_dark(page: Page, office: str) -> None:
    """Contrast holds with the dark tokens."""
    enter(page, office, "technician")
    for path in ("/due", "/round"):
        page.goto(f"{office}{path}")
        assert _grave(page) == [], path


def test_customer_sees_sites_and_little_else(page: Page, office: str) -> None:
    """The contents have what the role may see; the site's pages are there."""
    enter(page, office, "customer")

    contents = page.locator("nav.contents a")
    expect(contents).to_have_text(["Sites", "More"])
    page.locator(".sites h3 a").first.click()
    expect(page.get_by_role("heading", level=1)).to_be_visible()
    expect(page.locator(".within a")).to_have_text(["Now", "History", "Alarms", "Paper"])
