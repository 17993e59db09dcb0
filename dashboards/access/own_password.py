"""The page on which somebody who is signed in gives themselves a new password."""

from __future__ import annotations

from collections.abc import Awaitable, Callable

import msgspec
import structlog
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from analytics.errors import LastLitreError
from dashboards.access.access import Access, Visit, cookie_name
from dashboards.access.gate import SIGN_IN
from dashboards.access.people import People, Person
from dashboards.access.rules import Caller
from dashboards.access.sessions import LONGEST_S
from dashboards.access.sign_in import keep_cookie

PAGE = "/password"
SIGN_IN_FIRST = f"{SIGN_IN}?then=%2Fpassword"

log = structlog.get_logger(__name__)


class PasswordView(msgspec.Struct, frozen=True, kw_only=True):
    """The form: the key of what went wrong, or that it is done."""

    trouble: str = ""
    wait_s: int = 0
    done: bool = False


Show = Callable[[Request, PasswordView], Awaitable[bytes]]


class OwnPassword:
    """Answers the form. `show` writes the page."""

    def __init__(self, access: Access, people: People, show: Show) -> None:
        self._access = access
        self._people = people
        self._show = show

    def routes(self) -> list[Route]:
        """The addresses."""
        return [
            Route(PAGE, self._form, methods=["GET"]),
            Route(PAGE, self._sent, methods=["POST"]),
        ]

    async def _form(self, request: Request) -> Response:
        visit: Visit = request.state.visit
        if not visit.who:
            return RedirectResponse(SIGN_IN_FIRST, 303)
        return await self._page(request, PasswordView(done="done" in request.query_params))

    async def _sent(self, request: Request) -> Response:
        visit: Visit = request.state.visit
        caller: Caller = request.state.caller
        fields: dict[str, str] = request.state.fields
        if visit.closed:  # a password would go over the network in clear
            return RedirectResponse(SIGN_IN_FIRST, 303)
        wait_s = self._access.patience.wait_s(caller.address)
        if wait_s > 0.0 or self._access.checking.full:
            view = PasswordView(trouble="sign-in.wait", wait_s=max(round(wait_s), 5))
            return await self._page(request, view, 429)
        new = fields.get("new", "")
        if new != fields.get("again", ""):
            return await self._page(request, PasswordView(trouble="own-password.differ"), 422)
        now = fields.get("password", "")
        person = await self._access.tried((caller.address,), visit.who, now)
        if person is None:
            log.warning("access.refused", address=caller.address)
            return await self._page(request, PasswordView(trouble="own-password.wrong"), 401)
        try:
            changed = await run_in_threadpool(self._people.change, person.name, new)
        except LastLitreError as fault:
            log.info("access.password-refused", who=person.name, why=str(fault))
            return await self._page(request, PasswordView(trouble="own-password.too-plain"), 422)
        return await self._go_on(changed, caller)

    async def _go_on(self, person: Person, caller: Caller) -> Response:
        """The new password has ended every session of the person; this browser begins another."""
        sessions = self._access.sessions
        assert sessions is not None  # there are people, so there are sessions
        token = await run_in_threadpool(sessions.begin, person)
        log.info("access.new-password", who=person.name, address=caller.address)
        response = RedirectResponse(f"{PAGE}?done=yes", 303)
        keep_cookie(response, cookie_name("session", caller), token, caller, round(LONGEST_S))
        return response

    async def _page(self, request: Request, view: PasswordView, status: int = 200) -> Response:
        headers = {"cache-control": "no-store"}
        if view.wait_s:
            headers["retry-after"] = str(view.wait_s)
        html = await self._show(request, view)
        return Response(html, status, media_type="text/html; charset=utf-8", headers=headers)
