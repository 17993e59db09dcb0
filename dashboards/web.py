"""The pages as an ASGI application: addresses, headers, the choices a browser keeps.

Everything comes from this host: no script in the markup, no asset from elsewhere. Who may see and
do what is decided at the gate (`dashboards.access`), before any of this.
"""

from __future__ import annotations

import asyncio
import time
from collections.abc import AsyncIterator, Awaitable, Callable

from starlette.applications import Starlette
from starlette.middleware import Middleware
from starlette.middleware.gzip import GZipMiddleware
from starlette.requests import Request
from starlette.responses import PlainTextResponse, RedirectResponse, Response, StreamingResponse
from starlette.routing import Route

from analytics.errors import LastLitreError
from dashboards.access.access import Access, Visit
from dashboards.access.gate import Gate
from dashboards.access.own_password import OwnPassword, PasswordView
from dashboards.access.people import People
from dashboards.access.sign_in import SignIn, SignInView
from dashboards.acts.routes import Acts, Book
from dashboards.choosing import kept_choice, taste_asked
from dashboards.commissioning.bench import Bench
from dashboards.commissioning.notebook import Notebook
from dashboards.desk import Desk
from dashboards.guard import SafeHeaders
from dashboards.metrics import MEDIA_TYPE
from dashboards.page import Download, Page, pages
from dashboards.paper.make import PaperAskedError
from dashboards.plain import asset, no_paper, trouble
from dashboards.serving import address_of, listen, serve
from dashboards.sources import SiteSource
from dashboards.stream import Stream
from dashboards.taste import Taste

__all__ = ["address_of", "create_app", "listen", "serve"]

MOST_OPEN_PAGES = 150
LONGEST_LINE_NAME = 63


def create_app(
    source: SiteSource,
    *,
    access: Access | None = None,
    book: Book | None = None,
    taste: Taste | None = None,
    clock: Callable[[], float] = time.monotonic,
    metrics: Callable[[], str] | None = None,
    bench: Bench | None = None,
    notebook: Notebook | None = None,
) -> Starlette:
    """The pages of a site.

    `access` is the door: without one only this machine may look, and nobody can sign in. `book` is
    the logbook, where there is one to write into. `taste` is what a browser that has chosen nothing
    gets. `metrics` writes the figures for `/metrics`. With a `bench` of meters and a `notebook`
    lines can be fitted.
    """
    desk = Desk(source, taste or Taste(), clock)
    access = access or Access()
    app = Starlette(
        routes=[
            *_page_routes(desk),
            *SignIn(access, _sign_in_page(desk)).routes(),
            *_password_routes(desk, access),
            *(Acts(desk, book).routes() if book is not None else []),
            *_fitting_routes(desk, book, bench, notebook),
            Route("/live", _live),
            *([Route("/metrics", _metrics(metrics))] if metrics else []),
            Route("/static/{name}", asset),
        ],
        middleware=[
            Middleware(SafeHeaders),
            Middleware(Gate, access=access),
            Middleware(GZipMiddleware, minimum_size=400),
        ],
        exception_handlers={PaperAskedError: no_paper, LastLitreError: trouble, 404: _not_found},
    )
    desk.has_logbook = book is not None
    app.state.desk = desk
    app.state.access = access
    app.state.stream = Stream(desk.message)
    return app


def _fitting_routes(
    desk: Desk, book: Book | None, bench: Bench | None, notebook: Notebook | None
) -> list[Route]:
    if book is None or bench is None or notebook is None:
        return []
    desk.has_fitting = True
    from dashboards.commissioning.routes import Fitting  # brings the survey's models along

    return Fitting(desk, book, bench, notebook).routes()


def _page_routes(desk: Desk) -> list[Route]:
    first, *_ = pages()

    async def start(_: Request) -> Response:
        return RedirectResponse(first.path, status_code=302)

    given = [d for page in pages() for d in page.downloads]
    return [
        Route("/", start),
        *(Route(p.path, _page(p, desk)) for p in pages()),
        *(Route(d.path, _download(d, desk)) for d in given),
    ]


def _download(wanted: Download, desk: Desk) -> Callable[[Request], object]:
    async def give(request: Request) -> Response:
        taste = taste_asked(request, desk.usual)
        query, address = dict(request.query_params), str(request.base_url)
        given = await desk.download(wanted, query, taste, address)
        headers = {"cache-control": "no-store"}
        if given.file_name:
            headers["content-disposition"] = f'attachment; filename="{given.file_name}"'
        return Response(given.body, media_type=given.kind, headers=headers)

    return give


def _page(page: Page, desk: Desk) -> Callable[[Request], object]:
    async def show(request: Request) -> Response:
        if (choice := kept_choice(request)) is not None:
            return choice
        taste = taste_asked(request, desk.usual)
        html = await desk.html(page, dict(request.query_params), taste, request.state.visit)
        return Response(
            html, media_type="text/html; charset=utf-8", headers={"cache-control": "no-store"}
        )

    return show


def _sign_in_page(desk: Desk) -> Callable[[Request, SignInView], Awaitable[bytes]]:
    async def show(request: Request, view: SignInView) -> bytes:
        taste = taste_asked(request, desk.usual)
        return await desk.sheet("sign_in.html", taste, request.state.visit, form=view)

    return show


def _password_routes(desk: Desk, access: Access) -> list[Route]:
    if not isinstance(access.people, People):
        return []

    async def show(request: Request, view: PasswordView) -> bytes:
        taste = taste_asked(request, desk.usual)
        return await desk.sheet("password.html", taste, request.state.visit, form=view)

    return OwnPassword(access, access.people, show).routes()


async def _live(request: Request) -> Response:
    desk: Desk = request.app.state.desk
    stream: Stream[tuple[Taste, str]] = request.app.state.stream
    taste = taste_asked(request, desk.usual)
    kind = (taste, request.query_params.get("line", "")[:LONGEST_LINE_NAME])
    if stream.open_pages >= MOST_OPEN_PAGES:
        return PlainTextResponse(
            "Too many pages are open.\n", status_code=503, headers={"retry-after": "30"}
        )
    access: Access = request.app.state.access
    visit: Visit = request.state.visit

    async def messages() -> AsyncIterator[bytes]:
        async for message in stream.listen(kind):
            if visit.who and not access.still(request.state.token):
                return
            yield message

    return StreamingResponse(
        messages(), media_type="text/event-stream", headers={"cache-control": "no-store"}
    )


def _metrics(figures: Callable[[], str]) -> Callable[[Request], Awaitable[Response]]:
    async def tell(_: Request) -> Response:
        return Response(
            await asyncio.to_thread(figures),
            media_type=MEDIA_TYPE,
            headers={"cache-control": "no-store"},
        )

    return tell


async def _not_found(request: Request, _: Exception) -> Response:
    there = ", ".join(page.path for page in pages())
    return PlainTextResponse(
        f"There is no page {request.url.path}. There is: {there}.\n", status_code=404
    )
