"""Pages with a door, over a real socket or straight into the app, and somebody to sign in."""

from __future__ import annotations

import asyncio
import re
import tempfile
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from pathlib import Path

import httpx

from dashboards.access.access import Access
from dashboards.access.closed_file import write_closed
from dashboards.access.people import People
from dashboards.access.rules import Rules
from dashboards.serving import Keys, PageServer, listen
from dashboards.web import create_app
from tests.dashboards.specimens import FixedSource, line, site

NAME, PASSWORD = "Ada", "three wet grinders"
OTHER, OTHER_PASSWORD = "Bo", "steam and a sieve"


@cache
def two_people() -> bytes:
    """A file of two people; made once, for a key takes its time."""
    with tempfile.TemporaryDirectory() as folder:
        held = People(Path(folder) / "two.people")
        held.add(NAME, PASSWORD)
        held.add(OTHER, OTHER_PASSWORD)
        return held.path.read_bytes()


class Ticking:
    """A clock that moves when told."""

    def __init__(self, now_s: float = 1_000.0) -> None:
        self.now_s = now_s

    def __call__(self) -> float:
        return self.now_s


def door(
    folder: Path, *, people: bool = True, clock: Ticking | None = None, **rules: object
) -> Access:
    """A door with two people, or with none."""
    held = People(folder / "harbour-steps.people")
    if people and not held.all():
        write_closed(held.path, two_people())
    ticking = clock or Ticking()
    return Access(Rules(**rules), held, wall_s=ticking, clock=ticking)  # type: ignore[arg-type]


def near(access: Access, host: str = "127.0.0.1") -> httpx.AsyncClient:
    """A browser on the machine itself."""
    return _client(access, f"http://{host}", "127.0.0.1")


def far(
    access: Access, url: str = "http://10.0.0.7", address: str = "10.0.0.9"
) -> httpx.AsyncClient:
    """A browser elsewhere on the network, for a page that listens there."""
    return _client(access, url, address)


def _client(access: Access, url: str, address: str) -> httpx.AsyncClient:
    app = create_app(FixedSource(site(line())), access=access)
    transport = httpx.ASGITransport(app=app, client=(address, 40_000))
    return httpx.AsyncClient(transport=transport, base_url=url, headers={"origin": url})


@contextmanager
def served(access: Access, keys: Keys | None = None, host: str = "127.0.0.1") -> Iterator[str]:
    """The pages behind a real socket; gives the address without a path."""
    listener = listen(host, 0)
    server = PageServer(
        create_app(FixedSource(site(line())), access=access), signals=False, keys=keys
    )
    thread = threading.Thread(target=lambda: asyncio.run(server.serve(sockets=[listener])))
    thread.start()
    try:
        way = "https" if keys else "http"
        yield f"{way}://{host}:{listener.getsockname()[1]}"
    finally:
        server.stop()
        thread.join(20)
        assert not thread.is_alive()


def form_of(html: str) -> str:
    """The token of a page's first form."""
    found = re.search(r'name="form" value="([0-9a-f]{64})"', html)
    assert found is not None, html
    return found.group(1)


async def sign_in(
    client: httpx.AsyncClient, name: str = NAME, password: str = PASSWORD, **more: str
) -> httpx.Response:
    """Open the form and send it."""
    page = await client.get("/sign-in")
    fields = {"form": form_of(page.text), "name": name, "password": password, **more}
    return await client.post("/sign-in", data=fields)
