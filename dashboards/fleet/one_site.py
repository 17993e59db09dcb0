"""One site: its own pages from received data, read only, below its own address."""

from __future__ import annotations

from collections.abc import Callable

from dashboards.fleet.asked import Absent, Answer, Answers, Asked, Moved, Sheet
from dashboards.fleet.console import year_of, zone_clock
from dashboards.fleet.source import ReceivedSource
from dashboards.fleet.within import within
from dashboards.page import Asked as SiteAsked
from dashboards.page import Download, Page
from dashboards.pages import alarms, history, now, paper
from firmware_bridge.fleet.records import line_rows

PAGES = (now.PAGE, history.PAGE, alarms.PAGE, paper.PAGE)
"""The pages of a site that need nothing but its record."""
ROOT = "/site/{site_no:int}"


def site_asked(asked: Asked) -> SiteAsked:
    """The request as a page of the site itself would have it."""
    row = asked.here
    source = ReceivedSource(
        asked.connection,
        row,
        line_rows.of_site(asked.connection, row.site_no),
        zone_clock(asked.house.time_zone, year_of(asked.now_ms)),
        asked.now_ms,
    )
    return SiteAsked(
        facts=source.facts(),
        reader=asked.reader,
        source=source,
        query=asked.query,
        root=f"/site/{row.site_no}",
    )


def start(asked: Asked) -> Answer:
    """The first of its pages."""
    return Moved(to=f"/site/{asked.here.site_no}/now")


def _shown(page: Page) -> Callable[[Asked], Answer]:
    def show(asked: Asked) -> Answer:
        of_site = site_asked(asked)
        name = page.path.strip("/")
        more = {
            "within": within(asked, name),
            "what": asked.here.called,
            "root": of_site.root,
            "path": f"{of_site.root}{page.path}",
        }
        return Sheet(template=page.template, view=page.answer(of_site), more=more)

    return show


def _given(download: Download) -> Callable[[Asked], Answer]:
    def give(asked: Asked) -> Answer:
        of_site = site_asked(asked)
        return download.give(of_site) if of_site.facts.lines else Absent()

    return give


ANSWERS: Answers = {
    ("GET", ROOT): start,
    **{("GET", f"{ROOT}{page.path}"): _shown(page) for page in PAGES},
    **{("GET", f"{ROOT}{d.path}"): _given(d) for page in PAGES for d in page.downloads},
}
AGAIN: dict[str, str] = {}
