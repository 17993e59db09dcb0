"""The table as routes: each address answers all its methods, and every refusal is told as one."""

from __future__ import annotations

import hashlib
from abc import ABC, abstractmethod
from collections.abc import Callable
from typing import Any

import msgspec
import structlog
from starlette.concurrency import run_in_threadpool
from starlette.requests import ClientDisconnect, Request
from starlette.responses import Response
from starlette.routing import Route
from starlette.types import Receive, Scope, Send

from analytics.errors import StoreError
from dashboards.access.rules import Rules
from dashboards.fleet.api import door
from dashboards.fleet.api.described import document
from dashboards.fleet.api.joining import Newcomer
from dashboards.fleet.api.operation import ROOT, Call, Operation
from dashboards.fleet.api.problems import Refusal, answer_of
from dashboards.fleet.api.sheet import sheet
from dashboards.fleet.api.state import Api, wall_ms
from dashboards.fleet.api.table import JOIN, OPERATIONS
from dashboards.fleet.door import FleetVisit
from firmware_bridge.fleet.config import FleetFile
from firmware_bridge.fleet.identity.enrolling import Enrolling
from firmware_bridge.fleet.identity.tokens import Bearer
from firmware_bridge.fleet.records.engine import Records

KEPT = {"cache-control": "private, no-cache", "vary": "authorization"}

log = structlog.get_logger(__name__)


def api_routes(api: Api) -> list[Route]:
    """The routes of the API, its description, and what answers where there is nothing."""
    by_path: dict[str, dict[str, Operation]] = {}
    for operation in OPERATIONS:
        by_path.setdefault(operation.path, {})[operation.method] = operation
    return [
        *(Route(path, _Address(api, methods)) for path, methods in by_path.items()),
        Route(JOIN.path, _Gate(api)),
        Route(f"{ROOT}/openapi.json", _Fixed(_described, "application/json")),
        Route(ROOT, _Fixed(sheet, "text/html; charset=utf-8")),
        Route(f"{ROOT}/{{rest:path}}", _Nothing()),
    ]


def routes_of(records: Records, file: FleetFile) -> tuple[Route, ...]:
    """The API of a fleet as its file states it; where it has a `[sites]` table, sites join."""
    joining = file.joining
    enrolling = Enrolling(records, joining, wall_ms) if joining is not None else None
    api = Api(
        records,
        rules=Rules(proxies=file.page.proxies, in_clear=file.page.logins_in_clear is not None),
        enrolling=enrolling,
        silent_ms=round(file.silent_after_s * 1000),
    )
    return tuple(api_routes(api))


def _described() -> bytes:
    return msgspec.json.encode(document())


class _Answering(ABC):
    """An ASGI application that turns refusals into problems."""

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        request = Request(scope, receive)
        try:
            response = await self.answer(request)
        except Refusal as no:
            response = answer_of(no)
        except StoreError as error:
            log.warning("api.records", reason=str(error), hint=error.hint)
            response = answer_of(Refusal(503, "The records do not answer.", retry_after="10"))
        except ClientDisconnect:
            return
        await response(scope, receive, send)

    @abstractmethod
    async def answer(self, request: Request) -> Response:
        """What is sent back; raises Refusal."""


class _Address(_Answering):
    """One address with its methods."""

    def __init__(self, api: Api, methods: dict[str, Operation]) -> None:
        self._api = api
        self._methods = methods

    async def answer(self, request: Request) -> Response:
        method = "GET" if request.method == "HEAD" else request.method
        operation = self._methods.get(method)
        if operation is None:
            raise _no_method(*self._methods)
        door.caller(request, self._api.rules)
        text = door.token(request)
        bearer = await run_in_threadpool(self._api.bearer, text, operation.weight)
        _check_may(bearer, operation)
        call = {
            "bearer": bearer,
            "numbers": door.numbers(request),
            "query": door.query(request, operation.query),
            "body": await door.body(request, operation.body) if operation.changes else None,
        }
        body = await run_in_threadpool(self._done, operation, call)
        return _sent(request, operation, body)

    def _done(self, operation: Operation, parts: dict[str, Any]) -> bytes:
        records = self._api.records
        with records.begin() if operation.changes else records.read() as connection:
            bearer: Bearer = parts["bearer"]
            visit = FleetVisit(role=bearer.role, customer_no=bearer.customer_no)
            call = Call(
                records=records,
                taught=self._api.taught,
                connection=connection,
                sight=visit.sight,
                now_ms=self._api.now_ms(),
                silent_ms=self._api.silent_ms,
                **parts,
            )
            return msgspec.json.encode(operation.do(call))


class _Gate(_Answering):
    """Where a site joins; a code stands in for a token."""

    def __init__(self, api: Api) -> None:
        self._api = api

    async def answer(self, request: Request) -> Response:
        if request.method != JOIN.method:
            raise _no_method(JOIN.method)
        caller = door.caller(request, self._api.rules)
        door.query(request, None)
        newcomer = Newcomer(
            enrolling=self._api.enrolling,
            patience=self._api.patience,
            address=caller.address,
            claim=await door.body(request, JOIN.body),
        )
        joined = await run_in_threadpool(JOIN.do, newcomer)
        return _sent(request, JOIN, msgspec.json.encode(joined))


class _Fixed(_Answering):
    """A document that is the same for everybody."""

    def __init__(self, make: Callable[[], bytes], kind: str) -> None:
        self._make = make
        self._kind = kind

    async def answer(self, request: Request) -> Response:
        if request.method not in ("GET", "HEAD"):
            raise _no_method("GET")
        return Response(self._make(), media_type=self._kind, headers={"cache-control": "no-cache"})


class _Nothing(_Answering):
    """Where there is nothing."""

    async def answer(self, request: Request) -> Response:
        raise Refusal(404, f"There is no such address; {ROOT} names those that are.")


def _no_method(*methods: str) -> Refusal:
    there = sorted({*methods, *(["HEAD"] if "GET" in methods else [])})
    return Refusal(405, f"Here is: {', '.join(there)}.", allow=", ".join(there))


def _check_may(bearer: Bearer, operation: Operation) -> None:
    if bearer.role not in operation.who:
        raise Refusal(403, "The person of this token may not do this.")
    if operation.changes and not bearer.may_change:
        raise Refusal(403, "This token only reads; make one that may change things.")


def _sent(request: Request, operation: Operation, body: bytes) -> Response:
    """The answer, or "as you have it" where whoever asks names what it is now."""
    if operation.changes:
        headers = {"cache-control": "no-store"}
        return Response(body, operation.status, headers, "application/json")
    mark = f'"{hashlib.sha256(body).hexdigest()[:32]}"'
    headers = KEPT | {"etag": mark}
    known = request.headers.get("if-none-match", "").split(",")
    if mark in (name.strip().removeprefix("W/") for name in known):
        return Response(status_code=304, headers=headers)
    return Response(body, headers=headers, media_type="application/json")
