"""A choice made by a link (units, language, look), kept in a cookie; what a browser asks for."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import PlainTextResponse, RedirectResponse, Response

from dashboards.taste import Taste, choices, taste_of

A_YEAR_S = 31_536_000


def kept_choice(request: Request) -> Response | None:
    """The answer that keeps what the address chooses and shows the page again without it; None
    where it chooses nothing."""
    chosen = {k: v for k, v in request.query_params.items() if k in choices()}
    if not chosen:
        return None
    for name, value in chosen.items():
        if value not in choices()[name]:
            allowed = ", ".join(choices()[name])
            return PlainTextResponse(f"{name} can be {allowed}; not {value!r}.\n", status_code=400)
    rest = request.url.remove_query_params(list(chosen))
    target = rest.path + (f"?{rest.query}" if rest.query else "")
    response = RedirectResponse(target, status_code=303)
    for name, value in chosen.items():
        response.set_cookie(name, value, max_age=A_YEAR_S, httponly=True, samesite="strict")
    return response


def taste_asked(request: Request, usual: Taste) -> Taste:
    """The taste of whoever asks: chosen before, else as the browser is set, else the usual."""
    return taste_of(request.cookies, usual, request.headers.get("accept-language", ""))
