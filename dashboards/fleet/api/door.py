"""From a request to its parts: token, caller, query, body, each refused with a sentence."""

from __future__ import annotations

import asyncio
from collections import defaultdict
from typing import Any
from urllib.parse import parse_qsl

import msgspec
from starlette.requests import Request

from dashboards.access.rules import Caller, Rules, caller_of, host_name
from dashboards.fleet.api.problems import Refusal

LARGEST_BODY = 16_384
LONGEST_QUERY = 12_000
MOST_NUMBER = 2**53
BODY_WITHIN_S = 10.0
JSON = "application/json"
CHALLENGE = 'Bearer realm="lastlitre"'


def caller(request: Request, rules: Rules) -> Caller:
    """Who calls; raises Refusal where a token or a code could be read on the way."""
    several: dict[str, list[str]] = defaultdict(list)
    for key, value in request.headers.items():
        several[key].append(value)
    name = host_name(request.headers.get("host", "")) or ""
    peer = request.client.host if request.client else ""
    found = caller_of(rules, peer, request.url.scheme, name, several)
    if not (found.secure or found.local or rules.in_clear):
        raise Refusal(403, "Only over https: what is sent in the clear can be read on the way.")
    return found


def token(request: Request) -> str:
    """The token a request carries; raises Refusal where there is none."""
    given = request.headers.getlist("authorization")
    way, _, text = given[0].partition(" ") if len(given) == 1 else ("", "", "")
    if way.lower() != "bearer" or not text:
        raise unknown_token()
    return text.strip()


def unknown_token() -> Refusal:
    """One answer for a token that is missing, unknown, over or revoked."""
    return Refusal(
        401,
        "Send a token that works: Authorization: Bearer ...",
        www_authenticate=CHALLENGE,
    )


def numbers(request: Request) -> dict[str, int]:
    """The numbers in the address; one too large to be ours is 0, which is nobody's."""
    return {k: v if v < MOST_NUMBER else 0 for k, v in request.path_params.items()}


def query(request: Request, form: type[msgspec.Struct] | None) -> Any:
    """The query as its struct; raises Refusal for what is not in it, stated twice or unreadable."""
    raw = request.scope["query_string"]
    if len(raw) > LONGEST_QUERY:
        raise Refusal(414, f"The query has at most {LONGEST_QUERY} signs.")
    try:
        pairs = parse_qsl(raw.decode("ascii"), keep_blank_values=True, errors="strict")
        given = dict(pairs)
        if len(given) != len(pairs):
            raise Refusal(400, "The query states something twice.")
        if form is None:
            if given:
                raise Refusal(400, "Nothing can be asked for here.")
            return None
        found = msgspec.convert(given, form, strict=False)
    except (ValueError, msgspec.ValidationError) as exc:
        raise Refusal(400, f"query: {_said(exc)}") from exc
    _check_signs(given)
    return found


async def body(request: Request, form: type[msgspec.Struct] | None) -> Any:
    """The body as its struct; raises Refusal for what is too large, too slow or no such JSON."""
    kind = request.headers.get("content-type", "").split(";")[0].strip().lower()
    try:
        async with asyncio.timeout(BODY_WITHIN_S):
            data = await _whole(request)
    except TimeoutError:
        raise Refusal(408, "The body did not arrive in time.") from None
    if form is None:
        if data:
            raise Refusal(400, "Nothing is sent along here.")
        return None
    if kind != JSON:
        raise Refusal(415, f"Send {JSON}.")
    return decoded(data, form)


def decoded(data: bytes, form: type[msgspec.Struct]) -> Any:
    """JSON as its struct; raises Refusal."""
    try:
        found = msgspec.convert(_with_whole_numbers(msgspec.json.decode(data)), form)
    except (msgspec.MsgspecError, UnicodeDecodeError) as exc:
        raise Refusal(400, f"body: {_said(exc)}") from exc
    except RecursionError as exc:
        raise Refusal(400, "body: it is nested without end") from exc
    _check_signs(msgspec.to_builtins(found))
    return found


def _with_whole_numbers(told: Any) -> Any:
    """JSON knows one sort of number: 12.0 is 12."""
    if not isinstance(told, dict):
        return told
    return {key: int(v) if _is_whole(v) else v for key, v in told.items()}


def _is_whole(value: Any) -> bool:
    return isinstance(value, float) and value.is_integer() and abs(value) < MOST_NUMBER


async def _whole(request: Request) -> bytes:
    data = bytearray()
    async for part in request.stream():
        data += part
        if len(data) > LARGEST_BODY:
            raise Refusal(413, f"A body has at most {LARGEST_BODY} bytes.", connection="close")
    return bytes(data)


def _check_signs(found: Any) -> None:
    """Raises Refusal where a text holds signs that steer a terminal or end a string."""
    if isinstance(found, dict):
        for value in found.values():
            _check_signs(value)
    elif isinstance(found, list | tuple):
        for value in found:
            _check_signs(value)
    elif isinstance(found, str) and any(sign < " " or sign == "\x7f" for sign in found):
        raise Refusal(400, "A text holds control characters.")


def _said(exc: Exception) -> str:
    return "".join(sign if sign.isprintable() else "?" for sign in str(exc))[:300]
