"""Errors as problem details (RFC 9457): said plainly, and nothing of what the asker may not see."""

from __future__ import annotations

import msgspec
from starlette.responses import Response

from dashboards.fleet.api.words import Problem

MEDIA_TYPE = "application/problem+json"
TITLES = {
    400: "The request makes no sense",
    401: "No valid token",
    403: "Not allowed",
    404: "Not there",
    405: "Not possible here",
    408: "Too slow",
    409: "It stands otherwise already",
    413: "Too large",
    414: "Too long",
    415: "Not JSON",
    429: "Too many requests",
    503: "Not now",
}
UNSTORED = {"cache-control": "no-store"}


class Refusal(Exception):  # noqa: N818 - the request is refused, the program is well
    """Raised with what a request gets instead of an answer."""

    def __init__(self, status: int, detail: str = "", **headers: str) -> None:
        super().__init__(detail)
        self.status = status
        self.detail = detail
        self.headers = {name.replace("_", "-"): value for name, value in headers.items()}


def answer_of(refusal: Refusal) -> Response:
    """A refusal as it is sent."""
    told = Problem(title=TITLES[refusal.status], status=refusal.status, detail=refusal.detail)
    headers = UNSTORED | refusal.headers
    return Response(msgspec.json.encode(told), refusal.status, headers, MEDIA_TYPE)


def not_there() -> Refusal:
    """One answer for what is not there and for what is another's."""
    return Refusal(404, "There is no such thing, or it is not yours to see.")
