"""From a request to an answer: role, sight, records, words, template."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping
from functools import cache
from typing import Any

import msgspec
import structlog
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import PlainTextResponse, RedirectResponse, Response

from analytics.errors import ActRefused, StoreError
from analytics.setup import LocalTime
from dashboards.access.access import form_token
from dashboards.access.sign_in import SignInView, form_cookie, keep_form_cookie
from dashboards.choosing import kept_choice, taste_asked
from dashboards.desk import shared, templates
from dashboards.fleet.asked import (
    Absent,
    Answer,
    Answers,
    Asked,
    House,
    Moved,
    Prepared,
    Sheet,
)
from dashboards.fleet.door import FleetVisit
from dashboards.fleet.kept import Kept
from dashboards.fleet.roles import Way, may
from dashboards.page import Given
from dashboards.phrases.times import When
from dashboards.taste import Taste
from firmware_bridge.config.local_time import local_time
from firmware_bridge.fleet.identity.enrolling import Enrolling
from firmware_bridge.fleet.records import site_rows
from firmware_bridge.fleet.records.engine import Records

CONTENTS = ("due", "round", "parts", "sites", "doubt", "more")
"""Entries of the contents in their order: each the address and the key of its title."""
UNSTORED = {"cache-control": "no-store"}

log = structlog.get_logger(__name__)


class _Call(msgspec.Struct, frozen=True, kw_only=True):
    """A request's parts, read off on the loop."""

    visit: FleetVisit
    taste: Taste
    path: str
    query: dict[str, str]
    fields: dict[str, str]
    numbers: dict[str, int]


class Console:
    """Answers the ways of the table. `now_ms` is the wall clock; `again` names, for an act whose
    form is shown again where it was refused, the page with that form."""

    def __init__(
        self,
        records: Records,
        house: House,
        usual: Taste,
        now_ms: Callable[[], int],
        answers: Answers,
        again: Mapping[str, str],
        prepared: Prepared,
        enrolling: Enrolling | None = None,
    ) -> None:
        self.records = records
        self.house = house
        self._usual = usual
        self._now_ms = now_ms
        self._answers = answers
        self._again = again
        self._prepared = prepared
        self._kept = Kept(records)
        self._enrolling = enrolling

    def endpoint(self, way: Way) -> Callable[[Request], object]:
        """What answers one way; whoever's role is not named with it is refused here."""
        answer = self._answers[way.method, way.path]

        async def respond(request: Request) -> Response:
            visit: FleetVisit = request.state.visit
            if not way.may(visit.role):
                return await self._refused(request)
            if way.method == "GET" and (choice := kept_choice(request)) is not None:
                return choice
            call = self._call(request)
            try:
                response = await run_in_threadpool(self._respond, way, answer, call)
                if not visit.who:
                    keep_form_cookie(response, request)
                return response
            except StoreError as error:
                log.warning("fleet.records", reason=str(error), hint=error.hint)
                return await run_in_threadpool(self._no_records, call)

        return respond

    async def sign_in_page(self, request: Request, view: SignInView) -> bytes:
        """The page to sign in by."""
        call = self._call(request)
        return await run_in_threadpool(self._rendered, "sign_in.html", call, form=view)

    def _call(self, request: Request) -> _Call:
        visit: FleetVisit = request.state.visit
        if not visit.who:
            visit = msgspec.structs.replace(visit, form=form_token(form_cookie(request)))
        return _Call(
            visit=visit,
            taste=taste_asked(request, self._usual),
            path=request.url.path,
            query=dict(request.query_params),
            fields=request.state.fields,
            numbers={k: v for k, v in request.path_params.items() if isinstance(v, int)},
        )

    async def _refused(self, request: Request) -> Response:
        call = self._call(request)
        log.warning("fleet.refused", person=call.visit.person_no, path=call.path)
        html = await run_in_threadpool(self._rendered, "fleet/not_yours.html", call)
        return Response(html, 403, headers=UNSTORED, media_type="text/html; charset=utf-8")

    def _no_records(self, call: _Call) -> Response:
        html = self._rendered("fleet/no_records.html", call)
        headers = UNSTORED | {"retry-after": "10"}
        return Response(html, 503, headers=headers, media_type="text/html; charset=utf-8")

    def _respond(self, way: Way, answer: Callable[[Asked], Answer], call: _Call) -> Response:
        acts = way.method == "POST"
        try:
            ready = self._ready(way, call) if acts else None
            with self.records.begin() if acts else self.records.read() as connection:
                asked = self._asked(connection, call, ready)
                found = Absent() if _unseen(asked) else answer(asked)
                response = self._response(found, call)
            if acts:
                self._kept.forget()
            return response
        except ActRefused as error:
            return self._shown_again(way, call, error)

    def _ready(self, way: Way, call: _Call) -> Any:
        """What an act makes ready before it holds the records."""
        prepare = self._prepared.get(way.path)
        if prepare is None:
            return None
        with self.records.read() as connection:
            return prepare(self._asked(connection, call))

    def _shown_again(self, way: Way, call: _Call, error: ActRefused) -> Response:
        """The form with what was wrong; nothing of the act was kept."""
        page = self._answers["GET", self._again[way.path]]
        with self.records.read() as connection:
            asked = msgspec.structs.replace(
                self._asked(connection, call),
                faults=tuple(error.faults),
                typed=call.fields,
                fields={},
            )
            found = page(asked)
        if isinstance(found, Sheet):
            found = msgspec.structs.replace(found, status=422)
        return self._response(found, call, faults=error.faults)

    def _asked(self, connection: Any, call: _Call, ready: Any = None) -> Asked:
        now_ms = self._now_ms()
        reader = call.taste.reader()
        zone = call.visit.time_zone if call.visit.role == "customer" else self.house.time_zone
        site = None
        if (number := call.numbers.get("site_no")) is not None:
            site = site_rows.one(connection, call.visit.sight, number)
        return Asked(
            records=self.records,
            connection=connection,
            kept=self._kept,
            house=self.house,
            visit=call.visit,
            reader=reader,
            now_ms=now_ms,
            when=When(reader.language.calendar, zone_clock(zone, year_of(now_ms)), now_ms),
            query=call.query,
            fields=call.fields,
            numbers=call.numbers,
            site=site,
            ready=ready,
            enrolling=self._enrolling,
        )

    def _response(
        self, found: Answer, call: _Call, faults: tuple[tuple[str, str], ...] = ()
    ) -> Response:
        if isinstance(found, Moved):
            return RedirectResponse(found.to, 303)
        if isinstance(found, Absent):
            html = self._rendered("fleet/absent.html", call)
            return Response(html, 404, headers=UNSTORED, media_type="text/html; charset=utf-8")
        if isinstance(found, Given):
            return _file(found)
        html = self._rendered(found.template, call, faults, view=found.view, **found.more)
        return Response(html, found.status, headers=UNSTORED, media_type="text/html; charset=utf-8")

    def _rendered(
        self,
        template: str,
        call: _Call,
        faults: tuple[tuple[str, str], ...] = (),
        **more: Any,
    ) -> bytes:
        reader = call.taste.reader()
        now_ms = self._now_ms()
        clock = zone_clock(self.house.time_zone, year_of(now_ms))
        when = When(reader.language.calendar, clock, now_ms)
        role = call.visit.role
        told = {
            "site": self.house.company,
            "what": "",
            "frame": "fleet/frame.html",
            "root": "",
            "live": False,
            "logbook": False,
            "fitting": False,
            "pages": (),
            "within": (),
            "contents": [
                (f"/{n}", reader.say(f"fleet.{n}")) for n in CONTENTS if may(role, f"/{n}")
            ],
            "clock": when.clock(now_ms),
            "query": call.query,
            "path": call.path,
            "typed": call.fields,
            "faults": [(field, reader.say(f"fleet.fault.{code}")) for field, code in faults],
            "may": lambda path, method="GET": may(role, path, method),
        }
        everything = told | shared(call.taste, reader, call.visit) | more
        return templates().get_template(template).render(everything).encode()


@cache
def zone_clock(zone: str, year: int) -> LocalTime:
    """The clock changes of a zone, worked out once a year."""
    return local_time(zone, dt.datetime(year, 1, 1, tzinfo=dt.UTC))


def year_of(at_ms: int) -> int:
    """The year of an instant."""
    return dt.datetime.fromtimestamp(at_ms / 1000, tz=dt.UTC).year


def _unseen(asked: Asked) -> bool:
    """Whether the address names a site that is not there for whoever asks."""
    return "site_no" in asked.numbers and asked.site is None


def _file(found: Given) -> Response:
    headers = dict(UNSTORED)
    if found.file_name:
        headers["content-disposition"] = f'attachment; filename="{found.file_name}"'
    return Response(found.body, media_type=found.kind, headers=headers)


async def not_found(_: Request, __: Exception) -> Response:
    """An address that the table does not have."""
    return PlainTextResponse("There is no such page.\n", status_code=404)
