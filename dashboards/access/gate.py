"""The gate before every page: whose request it is, whether it is ours, and whether it may.

In this order: the name it was sent to, its size, where it comes from, who sends it, its form's
token. What comes through carries `request.state.visit`, `.caller` and `.fields`.
"""

from __future__ import annotations

import asyncio
import hmac
from collections import defaultdict
from typing import Any
from urllib.parse import parse_qsl, quote

import structlog
from starlette.datastructures import Headers
from starlette.requests import cookie_parser
from starlette.responses import PlainTextResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Receive, Scope, Send

from analytics.errors import LastLitreError
from dashboards.access.access import Access, cookie_name, form_token
from dashboards.access.rules import Caller, answers_to, caller_of, host_name

LARGEST_BODY = 16_384
LONGEST_ADDRESS = 2_000
MOST_FIELDS = 60
LONGEST_FIELD = 2_000
BODY_WITHIN_S = 10.0
SIGN_IN = "/sign-in"
FOR_PROGRAMS = {
    "/live": "Sign in first.",
    "/metrics": "These figures are for this machine and for whoever may look without signing in. "
    'To read them from elsewhere state view = "everyone" under [page], or read them here.',
}
"""What is read by programs: they get a sentence instead of a form to fill in."""
FORM = "application/x-www-form-urlencoded"

log = structlog.get_logger(__name__)


class Refused(Exception):  # noqa: N818 - the request is refused, the program is well
    """Raised with the answer that a request gets instead of a page."""

    def __init__(self, answer: Response) -> None:
        super().__init__(answer.status_code)
        self.answer = answer


def refusal(status: int, sentence: str) -> Refused:
    """A refusal in plain words."""
    return Refused(PlainTextResponse(f"{sentence}\n", status_code=status))


class Gate:
    """The middleware that lets requests through, or answers them itself."""

    def __init__(self, app: ASGIApp, access: Access) -> None:
        self._app = app
        self._access = access

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let a request through, or answer it."""
        if scope["type"] == "websocket":
            await send({"type": "websocket.close", "code": 1008})
            return
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        try:
            await self._admit(scope, receive)
        except Refused as no:
            await no.answer(scope, receive, send)
            return
        except LastLitreError as error:
            log.warning("access.unusable", error=str(error), hint=error.hint)
            answer = PlainTextResponse(f"{error}\n{error.hint}\n", status_code=503)
            await answer(scope, receive, send)
            return
        if scope["method"] == "POST":
            receive = _nothing_more(receive)
        await self._app(scope, receive, send)

    async def _admit(self, scope: Scope, receive: Receive) -> None:
        headers = Headers(scope=scope)
        _check_size(scope)
        caller = self._caller(scope, headers)
        cookies = cookie_parser(headers.get("cookie", "")[:4096])
        token = cookies.get(cookie_name("session", caller), "")
        visit = await self._access.visit(token, caller)
        posted = scope["method"] == "POST"
        if posted:
            _check_origin(headers, caller)
        self._check_may(scope, visit.who, caller)
        fields = await _fields(headers, receive) if posted else {}
        if posted:
            _check_token(fields, token, cookies.get(cookie_name("form", caller), ""))
        state = scope.setdefault("state", {})
        state["visit"] = visit
        state |= {"caller": caller, "fields": fields, "token": token if visit.who else ""}

    def _caller(self, scope: Scope, headers: Headers) -> Caller:
        sent_to = headers.getlist("host")
        name = host_name(sent_to[0]) if len(sent_to) == 1 else None
        arrived_at, *_ = scope.get("server") or ("",)
        if name is None or not answers_to(self._access.rules, name, str(arrived_at)):
            raise refusal(400, "This machine does not answer to that name.")
        peer, *_ = scope.get("client") or ("",)
        several: dict[str, list[str]] = defaultdict(list)
        for key, value in headers.items():
            several[key].append(value)
        return caller_of(self._access.rules, str(peer), scope["scheme"], name, several)

    def _check_may(self, scope: Scope, who: str, caller: Caller) -> None:
        path: str = scope["path"]
        if path.startswith(self._access.open_to_all):
            return
        looking = scope["method"] != "POST"
        if who or (looking and self._access.may_look(who, caller)):
            return
        if path in FOR_PROGRAMS:
            raise refusal(401, FOR_PROGRAMS[path])
        query = scope["query_string"].decode("latin-1")
        back = f"{path}?{query}" if query else path
        target = f"{SIGN_IN}?then={quote(back, safe='')}" if looking else SIGN_IN
        raise Refused(RedirectResponse(target, status_code=303))


def _check_size(scope: Scope) -> None:
    if scope["method"] not in ("GET", "HEAD", "POST"):
        raise refusal(405, "Pages are read and forms are sent; nothing else is done here.")
    if len(scope.get("raw_path") or b"") + len(scope["query_string"]) > LONGEST_ADDRESS:
        raise refusal(414, "This address is too long.")


def _check_origin(headers: Headers, caller: Caller) -> None:
    """A form comes from a page of ours: browsers say so, in one header or the other."""
    site, origin = headers.get("sec-fetch-site"), headers.get("origin")
    ours = f"{'https' if caller.secure else 'http'}://{headers['host']}".lower()
    elsewhere = (site is not None and site != "same-origin") or (
        origin is not None and origin.lower() != ours
    )
    if elsewhere or (site is None and origin is None):
        log.warning("access.from-elsewhere", address=caller.address)
        raise refusal(403, "This form was not sent from a page of this machine.")


async def _fields(headers: Headers, receive: Receive) -> dict[str, str]:
    """The fields of a form, within size and time."""
    if headers.get("content-type", "").split(";")[0].strip().lower() != FORM:
        raise refusal(415, f"A form is sent as {FORM}.")
    try:
        async with asyncio.timeout(BODY_WITHIN_S):
            body = await _body(receive)
    except TimeoutError:
        raise refusal(408, "The form did not arrive in time.") from None
    return fields_in(body)


async def _body(receive: Receive) -> bytes:
    body = bytearray()
    while True:
        message = await receive()
        if message["type"] == "http.disconnect":
            raise refusal(400, "The form broke off.")
        body += message.get("body", b"")
        if len(body) > LARGEST_BODY:
            raise refusal(413, f"A form has at most {LARGEST_BODY} bytes.")
        if not message.get("more_body", False):
            return bytes(body)


def fields_in(body: bytes) -> dict[str, str]:
    """The fields of an encoded form. Raises Refused where it is none of ours."""
    try:
        pairs = parse_qsl(
            body.decode("ascii"),
            keep_blank_values=True,
            encoding="utf-8",
            errors="strict",
            max_num_fields=MOST_FIELDS,
        )
    except ValueError as exc:  # UnicodeDecodeError is one
        raise refusal(400, "This form cannot be read.") from exc
    fields = dict(pairs)
    if len(fields) != len(pairs):
        raise refusal(400, "This form states a field twice.")
    if any(len(text) > LONGEST_FIELD or "\0" in text for text in fields.values()):
        raise refusal(400, f"A field has at most {LONGEST_FIELD} characters.")
    return fields


def _check_token(fields: dict[str, str], *cookies: str) -> None:
    given = fields.pop("form", "").encode("utf-8", "replace")
    right = [form_token(cookie).encode() for cookie in cookies if cookie]
    if not any(hmac.compare_digest(given, token) for token in right):
        raise refusal(403, "This form is no longer good: open its page again.")


def _nothing_more(receive: Receive) -> Receive:
    """The body was read; what follows is the end of it, then whatever comes."""
    ended = False

    async def after() -> Any:
        nonlocal ended
        if ended:
            return await receive()
        ended = True
        return {"type": "http.request", "body": b"", "more_body": False}

    return after
