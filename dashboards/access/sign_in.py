"""The pages for signing in and out."""

from __future__ import annotations

import math
from collections.abc import Awaitable, Callable
from urllib.parse import urlsplit

import msgspec
import structlog
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from dashboards.access.access import Access, Visit, cookie_name, form_token, new_secret
from dashboards.access.gate import SIGN_IN
from dashboards.access.people import Person
from dashboards.access.rules import Caller
from dashboards.access.sessions import LONGEST_S

SIGN_OUT = "/sign-out"
FIRST = "/"

log = structlog.get_logger(__name__)


class SignInView(msgspec.Struct, frozen=True, kw_only=True):
    """The form: where to go afterwards, the name as it was typed, the key of what went wrong."""

    then: str
    form: str
    name: str = ""
    trouble: str = ""
    wait_s: int = 0
    closed: str = ""


Show = Callable[[Request, SignInView], Awaitable[bytes]]


class SignIn:
    """Answers the sign-in form. `show` writes the page."""

    def __init__(self, access: Access, show: Show) -> None:
        self._access = access
        self._show = show

    def routes(self) -> list[Route]:
        """The addresses."""
        return [
            Route(SIGN_IN, self._form, methods=["GET"]),
            Route(SIGN_IN, self._sent, methods=["POST"]),
            Route(SIGN_OUT, self._out, methods=["POST"]),
        ]

    async def _form(self, request: Request) -> Response:
        return await self._page(request, "", then=own_address(request.query_params.get("then", "")))

    async def _sent(self, request: Request) -> Response:
        visit: Visit = request.state.visit
        caller: Caller = request.state.caller
        if visit.closed:
            return await self._page(request, "", status=403)
        sources = self._sources(request)
        wait_s = max(map(self._access.patience.wait_s, sources))
        if wait_s > 0.0 or self._access.checking.full:
            return await self._page(request, "sign-in.wait", wait_s=max(wait_s, 5.0), status=429)
        fields: dict[str, str] = request.state.fields
        name, password = fields.get("name", "").strip(), fields.get("password", "")
        person = await self._access.tried(sources, name, password)
        if person is None:
            return await self._page(request, "sign-in.wrong", status=401)
        return await self._begin(request, person, caller)

    def _sources(self, request: Request) -> tuple[str, ...]:
        """What a failed try counts against: the address, and the name where that is wished."""
        caller: Caller = request.state.caller
        name = request.state.fields.get("name", "").strip().casefold()[:40]
        return (caller.address, f"name {name}") if self._access.by_name else (caller.address,)

    async def _begin(self, request: Request, person: Person, caller: Caller) -> Response:
        """A session of its own for every sign-in: what the browser brought along is ended."""
        sessions = self._access.sessions
        assert sessions is not None  # there are people, so there are sessions
        if request.state.token:
            await run_in_threadpool(sessions.end, request.state.token)
        token = await run_in_threadpool(sessions.begin, person)
        log.info("access.signed-in", who=person.name, address=caller.address)
        response = RedirectResponse(own_address(request.state.fields.get("then", "")), 303)
        keep_cookie(response, cookie_name("session", caller), token, caller, round(LONGEST_S))
        response.delete_cookie(cookie_name("form", caller), path="/", secure=caller.secure)
        return response

    async def _out(self, request: Request) -> Response:
        caller: Caller = request.state.caller
        everywhere = "everywhere" in request.state.fields
        if self._access.sessions is not None and request.state.token:
            await run_in_threadpool(
                lambda: self._access.sessions.end(request.state.token, everywhere=everywhere)  # type: ignore[union-attr]
            )
        response = RedirectResponse(FIRST, 303)
        response.delete_cookie(cookie_name("session", caller), path="/", secure=caller.secure)
        return response

    async def _page(
        self,
        request: Request,
        trouble: str,
        *,
        then: str = "",
        wait_s: float = 0.0,
        status: int = 200,
    ) -> Response:
        """The form, with a cookie that its token belongs to."""
        visit: Visit = request.state.visit
        caller: Caller = request.state.caller
        fields: dict[str, str] = request.state.fields
        if trouble and status == 401:
            log.warning("access.refused", address=caller.address)
        cookie = form_cookie(request)
        view = SignInView(
            then=then or own_address(fields.get("then", "")),
            form=form_token(cookie),
            name=fields.get("name", "")[:40],
            trouble=trouble,
            wait_s=math.ceil(wait_s),
            closed=visit.closed,
        )
        headers = {"cache-control": "no-store"}
        if wait_s:
            headers["retry-after"] = str(view.wait_s)
        html = await self._show(request, view)
        response = Response(html, status, media_type="text/html; charset=utf-8", headers=headers)
        keep_form_cookie(response, request)
        return response


def form_cookie(request: Request) -> str:
    """The cookie that the token of a form belongs to, where nobody is signed in; a new one for a
    browser that has none."""
    kept: str = getattr(request.state, "form_cookie", "")
    if not kept:
        kept = request.cookies.get(cookie_name("form", request.state.caller), "")
        kept = kept if len(kept) == len(new_secret()) else new_secret()
        request.state.form_cookie = kept
    return kept


def keep_form_cookie(response: Response, request: Request) -> None:
    """Send it along with the page that has the form."""
    caller: Caller = request.state.caller
    keep_cookie(response, cookie_name("form", caller), form_cookie(request), caller, 3600)


def own_address(wanted: str) -> str:
    """The address if it is one of ours, else the first page: nobody is sent elsewhere."""
    plain = wanted.isprintable() and "\\" not in wanted and len(wanted) < 1000
    if not (plain and wanted.startswith("/") and not wanted.startswith("//")):
        return FIRST
    parts = urlsplit(wanted)
    return FIRST if parts.netloc or parts.path in (SIGN_IN, SIGN_OUT) else wanted


def keep_cookie(response: Response, name: str, value: str, caller: Caller, age_s: int) -> None:
    """Set a cookie that no script and no other site gets."""
    response.set_cookie(
        name, value, max_age=age_s, path="/", httponly=True, samesite="strict", secure=caller.secure
    )
