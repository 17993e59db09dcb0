"""The addresses of the logbook: read it, write into it, take back, correct."""

from __future__ import annotations

import asyncio
from collections.abc import Mapping
from typing import Any, Protocol
from urllib.parse import urlencode

import msgspec
import structlog
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from analytics.errors import ActRefused
from analytics.samples import AnyEvent
from analytics.setup import LocalTime, SiteSetup
from dashboards.access.access import Visit
from dashboards.acts.forms import Form, act_of, forms, typed_moment
from dashboards.acts.prefilled import typed_of
from dashboards.acts.said import faults_said, logbook_view
from dashboards.choosing import taste_asked
from dashboards.desk import Desk
from dashboards.page import pages
from dashboards.taste import Taste
from firmware_bridge.logbook.acts import new_id
from firmware_bridge.logbook.checks import OF_ALARMS, OF_THE_PLACE
from firmware_bridge.store.chain import Chain, Entry
from firmware_bridge.store.events import kind_of

LOGBOOK = "/logbook"
SHOWN = 200
OFFERED = tuple(kind for kind, form in forms().items() if form.event not in OF_ALARMS)
"""Kinds that the logbook offers; what concerns an alarm is done where the alarm stands."""
PATIENCE_S = 10.0

log = structlog.get_logger(__name__)


def _back(typed: Mapping[str, str]) -> str:
    """The page a form came from, if it is one of ours; else the logbook."""
    then = typed.get("then", "")
    return then if then in {page.path for page in pages()} else LOGBOOK


class Book(Protocol):
    """Where acts are written down: `firmware_bridge.logbook.book.Logbook`."""

    async def record(self, act: AnyEvent, who: str) -> Entry:
        """Write an act down."""
        ...

    async def undo(self, event_id: str, who: str, reason: str = "") -> Entry:
        """Take an entry back."""
        ...

    async def entries(self, newest: int | None = None) -> list[Entry]:
        """Entries in the order they were written."""
        ...

    async def check(self) -> Chain:
        """Whether anything was changed afterwards."""
        ...


class Act(msgspec.Struct, frozen=True, kw_only=True):
    """A form as it is shown: what was typed, what is wrong with it, which entry it corrects."""

    form: Form
    lines: tuple[str, ...]
    typed: Mapping[str, str]
    once: str
    faults: tuple[str, ...] = ()
    old: Entry | None = None
    old_said: str = ""
    kept_waiting: bool = False

    @property
    def whole(self) -> bool:
        """Whether this may concern the whole place."""
        return self.form.event in OF_THE_PLACE


class Acts:
    """Answers the addresses of the logbook. Whoever writes is signed in: the gate saw to it."""

    def __init__(self, desk: Desk, book: Book) -> None:
        self._desk = desk
        self._book = book

    def routes(self) -> list[Route]:
        """The addresses."""
        return [
            Route(LOGBOOK, self._logbook, methods=["GET"]),
            Route("/act/undo", self._undo, methods=["POST"]),
            Route("/act/{kind}", self._form, methods=["GET"]),
            Route("/act/{kind}", self._sent, methods=["POST"]),
        ]

    async def _logbook(self, request: Request) -> Response:
        return await self._page(request)

    async def _page(
        self, request: Request, faults: tuple[str, ...] = (), status: int = 200
    ) -> Response:
        taste = self._taste(request)
        asked = await self._desk.asked(taste)
        chain, entries = await self._book.check(), await self._book.entries(SHOWN)
        lines = tuple(line.line_id for line in asked.facts.setup.lines)
        book = logbook_view(entries, chain, lines, asked.reader, asked.when)
        return await self._shown(
            request, "logbook.html", status, book=book, kinds=OFFERED, faults=faults, path=LOGBOOK
        )

    async def _form(self, request: Request) -> Response:
        form = forms().get(request.path_params["kind"])
        visit: Visit = request.state.visit
        if form is None:
            return RedirectResponse(LOGBOOK, 303)
        if not visit.who:
            then = urlencode({"then": str(request.url.path)})
            return RedirectResponse(f"/sign-in?{then}", 303)
        typed = dict(request.query_params)
        old = await self._old(typed.get("corrects", ""), form)
        if old is not None:
            setup, _ = await self._site()
            unit = self._taste(request).units
            typed = typed_of(form, old.event, unit, setup.local_time) | typed
        return await self._act(request, form, typed, new_id(), old=old)

    async def _sent(self, request: Request) -> Response:
        form = forms().get(request.path_params["kind"])
        if form is None:
            return RedirectResponse(LOGBOOK, 303)
        typed: dict[str, str] = request.state.fields
        setup, now_ms = await self._site()
        once = typed.get("once", "")
        try:
            act = act_of(form, typed, setup.local_time, now_ms)
            act = await self._to_the_second(act, form, setup.local_time)
            await self._written(self._book.record(act, request.state.visit.who))
        except ActRefused as refused:
            said = faults_said(refused, self._taste(request).reader())
            old = await self._old(typed.get("corrects", ""), form)
            return await self._act(request, form, typed, once, faults=said, old=old, status=422)
        except TimeoutError:
            return await self._act(request, form, typed, once, kept_waiting=True, status=202)
        log.info("logbook.written", kind=form.kind, who=request.state.visit.who)
        return RedirectResponse(_back(typed), 303)

    async def _undo(self, request: Request) -> Response:
        typed: dict[str, str] = request.state.fields
        try:
            reason = typed.get("note", "")
            undo = self._book.undo(typed.get("entry", ""), request.state.visit.who, reason)
            await self._written(undo)
        except ActRefused as refused:
            said = faults_said(refused, self._taste(request).reader())
            return await self._page(request, said, status=422)
        log.info("logbook.undone", entry=typed.get("entry", "")[:60], who=request.state.visit.who)
        return RedirectResponse(LOGBOOK, 303)

    async def _written(self, work: Any) -> None:
        """Wait for the disk, but not for ever; it is written even when nobody waits any more."""
        task = asyncio.ensure_future(work)
        await asyncio.wait_for(asyncio.shield(task), PATIENCE_S)

    async def _to_the_second(self, act: AnyEvent, form: Form, local: LocalTime) -> AnyEvent:
        """A correction that leaves the minute alone keeps the instant."""
        old = await self._old(act.corrects, form)
        if old is None or typed_moment(old.event.at_ms, local) != typed_moment(act.at_ms, local):
            return act
        return msgspec.structs.replace(act, at_ms=old.event.at_ms)

    async def _old(self, event_id: str, form: Form) -> Entry | None:
        if not event_id:
            return None
        entries = await self._book.entries()
        found = (e for e in entries if e.event.event_id == event_id)
        return next((e for e in found if kind_of(e.event) == form.kind), None)

    async def _act(
        self,
        request: Request,
        form: Form,
        typed: Mapping[str, str],
        once: str,
        *,
        status: int = 200,
        old: Entry | None = None,
        **more: Any,
    ) -> Response:
        setup, _ = await self._site()
        reader = self._taste(request).reader()
        act = Act(
            form=form,
            lines=tuple(line.line_id for line in setup.lines),
            typed=typed,
            once=once,
            old=old,
            old_said=reader.say(f"act.{form.kind}"),
            **more,
        )
        return await self._shown(request, "act.html", status, act=act)

    async def _shown(self, request: Request, template: str, status: int, **more: Any) -> Response:
        html = await self._desk.sheet(template, self._taste(request), request.state.visit, **more)
        headers = {"cache-control": "no-store"}
        return Response(html, status, media_type="text/html; charset=utf-8", headers=headers)

    async def _site(self) -> tuple[SiteSetup, int]:
        facts = await self._desk.facts()
        return facts.setup, facts.now_ms

    def _taste(self, request: Request) -> Taste:
        return taste_asked(request, self._desk.usual)
