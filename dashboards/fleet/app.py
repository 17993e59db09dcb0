"""The fleet's pages as an ASGI application, made from the table of who may do what."""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping

from starlette.applications import Starlette
from starlette.middleware import Middleware
from starlette.middleware.gzip import GZipMiddleware
from starlette.routing import BaseRoute, Mount, Route

from analytics.errors import LastLitreError
from dashboards.access.gate import Gate
from dashboards.access.sign_in import SignIn
from dashboards.fleet import (
    audit,
    box_acts,
    doubt,
    due,
    guide,
    hooks,
    house,
    learnt,
    one_site,
    parts,
    people,
    rounds,
    sites,
    tokens,
)
from dashboards.fleet.asked import Answers, House, Prepared
from dashboards.fleet.console import Console, not_found
from dashboards.fleet.door import FleetAccess
from dashboards.fleet.roles import WAYS
from dashboards.guard import SafeHeaders
from dashboards.paper.make import PaperAskedError
from dashboards.plain import asset, no_paper, trouble
from dashboards.taste import Taste
from firmware_bridge.fleet.identity.enrolling import Enrolling
from firmware_bridge.fleet.records.engine import Records

MODULES = (
    audit,
    box_acts,
    doubt,
    due,
    guide,
    hooks,
    house,
    learnt,
    one_site,
    parts,
    people,
    rounds,
    sites,
    tokens,
)


def create_app(
    records: Records,
    house: House,
    *,
    access: FleetAccess,
    taste: Taste | None = None,
    now_ms: Callable[[], int] = lambda: round(time.time() * 1000),
    beside: tuple[BaseRoute, ...] = (),
    enrolling: Enrolling | None = None,
) -> Starlette:
    """The pages of a fleet; with `enrolling` they give sites their logins. `beside` are routes that
    keep their own door and stand before the gate's, such as those for programs."""
    console = Console(
        records, house, taste or Taste(), now_ms, answers(), again(), prepared(), enrolling
    )
    sign_in = {(r.path, m): r for r in SignIn(access, console.sign_in_page).routes()
               for m in r.methods or ()}  # fmt: skip
    routes: list[BaseRoute] = []
    for way in WAYS:
        if (way.path, way.method) in sign_in:
            routes.append(sign_in[way.path, way.method])
        elif way.path == "/static/{name}":
            routes.append(Route(way.path, asset))
        else:
            routes.append(Route(way.path, console.endpoint(way), methods=[way.method]))
    app = Starlette(
        routes=routes,
        middleware=[
            Middleware(SafeHeaders),
            Middleware(Gate, access=access),
            Middleware(GZipMiddleware, minimum_size=400),
        ],
        exception_handlers={PaperAskedError: no_paper, LastLitreError: trouble, 404: not_found},
    )
    app.state.access = access
    if not beside:
        return app
    whole = Starlette(routes=[*beside, Mount("/", app=app)], middleware=[Middleware(SafeHeaders)])
    whole.state.access = access
    return whole


def answers() -> Answers:
    """What answers each way, from the files of this folder."""
    found: Answers = {}
    for module in MODULES:
        if twice := found.keys() & module.ANSWERS.keys():
            raise ValueError(f"{module.__name__}: these ways are answered already: {twice}")
        found |= module.ANSWERS
    return found


def again() -> Mapping[str, str]:
    """Which page has the form of each act."""
    return {act: page for module in MODULES for act, page in module.AGAIN.items()}


def prepared() -> Prepared:
    """What some acts make ready before they hold the records."""
    return {**box_acts.PREPARED, **hooks.PREPARED, **house.PREPARED}
