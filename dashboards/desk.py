"""Facts, pages and live messages of one site, each made once for all who ask within a second."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Hashable, Mapping
from functools import cache
from typing import Any

import msgspec
import structlog
from jinja2 import Environment, PackageLoader, StrictUndefined, select_autoescape
from starlette.concurrency import run_in_threadpool

from analytics.errors import LastLitreError
from analytics.quantities import HARDNESS
from dashboards.access.access import Visit
from dashboards.assets import asset_address
from dashboards.figures import live_texts, old_keys, rows_of_line
from dashboards.line_view import as_of, version
from dashboards.page import Asked, Download, Given, Page, pages, worst_first
from dashboards.pages.now import demo_note
from dashboards.phrases.language import names
from dashboards.phrases.reader import HARDNESS_UNITS, Reader
from dashboards.phrases.times import When
from dashboards.sources import SiteFacts, SiteSource
from dashboards.stream import event
from dashboards.taste import Taste, choices

KEPT_S = 0.9
MOST_KEPT = 64

NOBODY = Visit(closed="access.nobody")

log = structlog.get_logger()


class Desk:
    """What the addresses answer from. `clock` gives seconds that only go forwards."""

    def __init__(self, source: SiteSource, usual: Taste, clock: Callable[[], float]) -> None:
        self._source = source
        self._clock = clock
        self.usual = usual
        self.has_logbook = False
        self.has_fitting = False
        self._facts: SiteFacts | None = None
        self._read_at = 0.0
        self._reading = asyncio.Lock()
        self._kept: dict[Hashable, bytes] = {}
        self._templates = templates()
        self._trouble = ""

    async def facts(self) -> SiteFacts:
        """The site's facts, about a second old at most."""
        async with self._reading:
            now = self._clock()
            if self._facts is None or now - self._read_at >= KEPT_S:
                self._facts = await run_in_threadpool(self._source.facts)
                self._read_at = now
                self._kept.clear()
            return self._facts

    async def html(
        self, page: Page, query: Mapping[str, str], taste: Taste, visit: Visit = NOBODY
    ) -> bytes:
        """A page written out for whoever visits."""
        facts = await self.facts()
        key = (page.path, taste, visit, tuple(sorted(query.items())))
        if key in self._kept:
            return self._kept[key]
        html = await run_in_threadpool(self._write, page, facts, query, taste, visit)
        if len(self._kept) < MOST_KEPT and facts is self._facts:
            self._kept[key] = html
        return html

    def _write(
        self, page: Page, facts: SiteFacts, query: Mapping[str, str], taste: Taste, visit: Visit
    ) -> bytes:
        asked = self._asked(facts, taste, query)
        view = page.answer(asked)
        return self._rendered(
            page.template, asked, taste, visit, view=view, query=query, path=page.path
        )

    async def sheet(self, template: str, taste: Taste, visit: Visit, **more: Any) -> bytes:
        """A sheet that is no entry of the contents, such as a form; written anew each time."""
        asked = await self.asked(taste)
        about = {"view": asked.facts.setup, "query": {}, "path": ""}
        return await run_in_threadpool(
            lambda: self._rendered(template, asked, taste, visit, **(about | more))
        )

    async def asked(self, taste: Taste) -> Asked:
        """The facts of now for a reader of this taste."""
        return self._asked(await self.facts(), taste, {})

    def _asked(self, facts: SiteFacts, taste: Taste, query: Mapping[str, str]) -> Asked:
        return Asked(facts=facts, reader=taste.reader(), source=self._source, query=query)

    def _rendered(
        self, template: str, asked: Asked, taste: Taste, visit: Visit, **more: Any
    ) -> bytes:
        facts = asked.facts
        return (
            self._templates.get_template(template)
            .render(
                site=facts.setup.name,
                what=facts.setup.what,
                pages=pages(),
                logbook=self.has_logbook,
                fitting=self.has_fitting,
                clock=asked.when.clock(facts.now_ms),
                frame="base.html",
                root="",
                live=True,
                **shared(taste, asked.reader, visit),
                **more,
            )
            .encode()
        )

    async def download(
        self, wanted: Download, query: Mapping[str, str], taste: Taste, address: str = ""
    ) -> Given:
        """What a page gives beside itself; `address` is where the pages were found."""
        facts = await self.facts()
        asked = msgspec.structs.replace(self._asked(facts, taste, query), address=address)
        return await run_in_threadpool(wanted.give, asked)

    async def message(self, kind: tuple[Taste, str]) -> bytes:
        """The live figures of a line for one taste, as one event."""
        taste, line_id = kind
        try:
            facts = await self.facts()
        except LastLitreError as error:
            return event(msgspec.json.encode({"trouble": self._told(error)}))
        self._trouble = ""
        return event(msgspec.json.encode(live_message(facts, line_id, taste.reader())))

    def _told(self, error: LastLitreError) -> str:
        """The error's text; logged when it is a new one."""
        if str(error) != self._trouble:
            log.warning("pages.no-facts", reason=str(error), hint=error.hint)
        self._trouble = str(error)
        return self._trouble


def live_message(facts: SiteFacts, line_id: str, reader: Reader) -> dict[str, Any]:
    """What an open page of this line replaces: texts by name, ages in pencil, and the version
    that tells whether the rest of the page has to be fetched anew."""
    when = When(reader.language.calendar, facts.setup.local_time, facts.now_ms)
    texts = {"clock": when.clock(facts.now_ms), "demo": demo_note(facts, reader, when)}
    found = next((p for p in worst_first(facts) if p[1].setup.line_id == line_id), None)
    if found is None:
        return {"v": "", "t": texts, "old": []}
    state, line = found
    rows = rows_of_line(line, reader, when)
    if (known := as_of(line, reader, when)) is not None:
        texts["head.as-of"], texts["head.age"] = known
    return {
        "v": version(line, state, when),
        "t": texts | live_texts(rows),
        "old": old_keys(rows),
    }


def shared(taste: Taste, reader: Reader, visit: Visit) -> dict[str, Any]:
    """What every frame asks for."""
    return {
        "say": reader.say,
        "decimal": reader.decimal,
        "taste": taste,
        "visit": visit,
        "choices": choices(),
        "languages": names(),
        "signs": {unit: HARDNESS.unit(unit).sign for unit in HARDNESS_UNITS},
    }


@cache
def templates() -> Environment:
    """The templates of all pages; every text put in is made harmless."""
    environment = Environment(
        loader=PackageLoader("dashboards"),
        autoescape=select_autoescape(default=True),
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.globals["asset"] = asset_address
    return environment
