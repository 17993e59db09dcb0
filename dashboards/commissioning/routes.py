"""The addresses of a fitting: look at a step, press a button, read the meters again."""

from __future__ import annotations

import asyncio
import math
from collections.abc import Mapping
from typing import Any, Final
from urllib.parse import urlencode

import msgspec
import structlog
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, PlainTextResponse, RedirectResponse, Response
from starlette.routing import Route

from analytics.errors import ActRefused
from analytics.samples import AnyEvent, Rows
from analytics.setup import LineSetup
from dashboards.acts.forms import number as number_of
from dashboards.acts.routes import Book
from dashboards.acts.said import faults_said
from dashboards.choosing import kept_choice, taste_asked
from dashboards.commissioning import moves_meters, moves_water  # noqa: F401 - they name their buttons
from dashboards.commissioning.bench import Bench
from dashboards.commissioning.meters import LONG_MS
from dashboards.commissioning.moves import Ask, Move, entry_id, kept, move
from dashboards.commissioning.notebook import Notebook
from dashboards.commissioning.progress import Progress
from dashboards.commissioning.promise import proposal
from dashboards.commissioning.screen import Shot
from dashboards.commissioning.screens import live_of, screen_of
from dashboards.commissioning.steps import STEPS
from dashboards.commissioning.task_proposal import others
from dashboards.commissioning.typed import Typed
from dashboards.desk import Desk
from dashboards.page import Asked
from dashboards.taste import Taste

FIT: Final = "/fit"
CONTROL: Final = frozenset({"line", "step", "turn", "act", "nudge"})
LATEST_S: Final = 13.0
"""A node tells of the last pulses within ten seconds, and a running site stores each second."""
SETTLED_MS: Final = 1000

log = structlog.get_logger(__name__)


class Fitting:
    """Answers the addresses. Whoever presses a button is signed in: the gate saw to it."""

    def __init__(self, desk: Desk, book: Book, bench: Bench, notebook: Notebook) -> None:
        self._desk = desk
        self._book = book
        self._bench = bench
        self._notebook = notebook
        self._one = asyncio.Lock()

    def routes(self) -> list[Route]:
        """The addresses."""
        return [
            Route(FIT, self._look, methods=["GET"]),
            Route(FIT, self._pressed, methods=["POST"]),
            Route(f"{FIT}/live", self._live, methods=["GET"]),
        ]

    async def _look(self, request: Request) -> Response:
        if (choice := kept_choice(request)) is not None:
            return choice
        query = request.query_params
        asked, line = await self._about(request, query.get("line", ""))
        if line is None:
            return PlainTextResponse("There is no such line.\n", status_code=404)
        shot = await self._shot(asked, line)
        step = query.get("step", shot.page.here)
        if step not in STEPS:
            return PlainTextResponse("There is no such step.\n", status_code=404)
        return await self._screen(request, shot, step)

    async def _live(self, request: Request) -> Response:
        query = request.query_params
        asked, line = await self._about(request, query.get("line", ""))
        if line is None or query.get("step", "") not in STEPS:
            return JSONResponse({}, status_code=404)
        shot = await self._shot(asked, line)
        texts = {live.key: live.value for live in live_of(shot, query["step"])}
        body = {"turn": shot.page.turn, "t": texts}
        return JSONResponse(body, headers={"cache-control": "no-store"})

    async def _pressed(self, request: Request) -> Response:
        typed: dict[str, str] = request.state.fields
        asked, line = await self._about(request, typed.get("line", ""))
        step = typed.get("step", "")
        if line is None or step not in STEPS:
            return PlainTextResponse("There is no such step.\n", status_code=404)
        async with self._one:
            shot = await self._shot(asked, line)
            if typed.get("turn", "") != str(shot.page.turn):
                say = (asked.reader.say("fit.old-page"),)
                return await self._screen(request, shot, shot.page.here, say, 409)
            try:
                found = await self._done(request, shot, step, typed)
            except ActRefused as refused:
                said = faults_said(refused, asked.reader)
                drafted = _drafted(shot.page, step, typed)
                await self._keep(kept(drafted, step, {}, shot.now_ms))
                again = await self._shot(asked, line)
                return await self._screen(request, again, step, said, 422)
        where = {"line": line.line_id} | ({"step": step} if found.here == step else {})
        return RedirectResponse(f"{FIT}?{urlencode(where)}", 303)

    async def _done(
        self, request: Request, shot: Shot, step: str, typed: Mapping[str, str]
    ) -> Progress:
        """The button's work: figured, written into the logbook, kept. Raises ActRefused."""
        if "nudge" in typed:
            page = kept(
                _nudged(_drafted(shot.page, step, typed), step, typed), step, {}, shot.now_ms
            )
            await self._keep(page)
            return page
        act = typed.get("act", "")
        if (step, act) == ("jugs", "count"):
            shot = await self._with_last_pulses(shot)
        who: str = request.state.visit.who
        ask = Ask(
            page=shot.page, line=shot.line, rows=shot.rows, who=who, now_ms=shot.now_ms,
            typed=Typed(fields=typed, reader=shot.reader, local=shot.site.local_time),
        )  # fmt: skip
        found = await run_in_threadpool(move, ask, step, act)
        again = shot.reader.say("fit.note.again")
        entries = await self._written(found, shot.page, step, who, again)
        page = kept(found.page, step, entries, shot.now_ms)
        await self._keep(page)
        log.info("fitting.pressed", line=page.line_id, step=step, act=act, who=who)
        return page

    async def _written(
        self, found: Move, old: Progress, step: str, who: str, again: str
    ) -> dict[str, str]:
        """Write the acts down; one that was written before is corrected, if it still holds, with
        `again` before its note."""
        entries = {}
        before = old.taken[step].entries if step in old.taken else {}
        for name, act in found.acts.items():
            act = msgspec.structs.replace(act, event_id=entry_id(found.page, step, name))
            entries[name] = await self._write(act, before.get(name, ""), who, again)
        return entries

    async def _write(self, act: AnyEvent, before: str, who: str, again: str) -> str:
        if before and before != act.event_id and await self._holds(before):
            act = msgspec.structs.replace(act, corrects=before, note=f"{again} {act.note}")
        entry = await self._book.record(act, who)
        return entry.event.event_id

    async def _holds(self, event_id: str) -> bool:
        entries = await self._book.entries()
        return any(e.event.event_id == event_id and not e.withdrawn_by for e in entries)

    async def _with_last_pulses(self, shot: Shot) -> Shot:
        """Wait until the counter has told of the last pulses, but not for ever."""
        loop = asyncio.get_running_loop()
        end = loop.time() + LATEST_S
        while True:
            rows = await self._rows(shot.page, shot.line, shot.now_ms)
            over = len(rows) and int(rows.at_ms[-1]) > shot.now_ms + SETTLED_MS
            if over or loop.time() > end:
                return msgspec.structs.replace(shot, rows=rows)
            await asyncio.sleep(0.5)

    async def _keep(self, page: Progress) -> None:
        await asyncio.to_thread(self._notebook.keep, page)

    async def _about(self, request: Request, name: str) -> tuple[Asked, LineSetup | None]:
        taste = self._taste(request)
        asked = await self._desk.asked(taste)
        lines = asked.facts.setup.lines
        first = lines[0] if lines and not name else None
        return asked, next((line for line in lines if line.line_id == name), first)

    async def _shot(self, asked: Asked, line: LineSetup) -> Shot:
        now_ms = asked.facts.now_ms
        page = await asyncio.to_thread(self._notebook.page, line.line_id, now_ms)
        rows = await self._rows(page, line, now_ms)
        return Shot(site=asked.facts.setup, line=line, page=page, rows=rows, reader=asked.reader,
                    when=asked.when)  # fmt: skip

    async def _rows(self, page: Progress, line: LineSetup, now_ms: int) -> Rows:
        since = min(page.since_ms or now_ms, now_ms - LONG_MS)
        return await asyncio.to_thread(self._bench.rows, line.line_id, since, now_ms + LONG_MS)

    async def _screen(
        self,
        request: Request,
        shot: Shot,
        step: str,
        faults: tuple[str, ...] = (),
        status: int = 200,
    ) -> Response:
        screen = await run_in_threadpool(screen_of, shot, step, faults)
        more: dict[str, Any] = {"others": ()}
        if step == "proposal" and screen.task.table:
            found = await run_in_threadpool(proposal, shot.page, shot.line)
            more["others"] = others(found, shot.reader) if found is not None else ()
        query = {"line": shot.line.line_id, "step": step}
        html = await self._desk.sheet(
            "fit.html", self._taste(request), request.state.visit, screen=screen, path=FIT,
            query=query, **more,
        )  # fmt: skip
        headers = {"cache-control": "no-store"}
        return Response(html, status, media_type="text/html; charset=utf-8", headers=headers)

    def _taste(self, request: Request) -> Taste:
        return taste_asked(request, self._desk.usual)


def _drafted(page: Progress, step: str, typed: Mapping[str, str]) -> Progress:
    """The page with what was typed kept, so that it stands there again."""
    found = {f"{step}.{n}": v[:60] for n, v in typed.items() if n not in CONTROL}
    return msgspec.structs.replace(page, draft=page.draft | found)


def _nudged(page: Progress, step: str, typed: Mapping[str, str]) -> Progress:
    """A field changed by one step up or down. Raises ActRefused for what is no number."""
    name, _, by = typed["nudge"].partition(":")
    try:
        value = number_of(typed.get(name, "") or "0") + number_of(by)
    except ValueError as fault:
        raise ActRefused([(name[:30], str(fault))]) from fault
    digits = max(0, -math.floor(math.log10(abs(number_of(by)) or 1.0) + 1e-9))
    text = f"{max(value, 0.0):.{digits}f}"
    return msgspec.structs.replace(page, draft=page.draft | {f"{step}.{name}": text})
