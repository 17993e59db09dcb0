"""Answers that every face gives alike: files of the look, and faults in plain words."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response

from dashboards.assets import assets
from dashboards.choosing import A_YEAR_S


async def asset(request: Request) -> Response:
    """A file of the folder `static`; with the mark of its content it may be kept for a year."""
    found = assets().get(request.path_params["name"])
    if found is None:
        return PlainTextResponse("There is no such file.\n", status_code=404)
    fresh = request.query_params.get("v") == found.mark
    kept = f"public, max-age={A_YEAR_S}, immutable" if fresh else "no-cache"
    return Response(found.body, media_type=found.kind, headers={"cache-control": kept})


async def trouble(_: Request, error: Exception) -> Response:
    """Something a person can mend: what, and how."""
    hint = getattr(error, "hint", "")
    return PlainTextResponse(f"{error}\n{hint}\n", status_code=503)


async def no_paper(_: Request, error: Exception) -> Response:
    """A paper that cannot be made: why."""
    hint = getattr(error, "hint", "")
    return PlainTextResponse(f"{error}\n{hint}\n", status_code=404)
