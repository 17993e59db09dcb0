"""A running app on loopback and a real browser beside it."""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from itertools import count
from pathlib import Path

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, sync_playwright

from dashboards.serving import PageServer, address_of, listen
from dashboards.sources import SiteSource
from dashboards.stream import EVERY_S, Stream
from dashboards.web import create_app
from tests.dashboards.specimens import FixedSource, line, site
from tests.dashboards.stored_site import Site

CHROMIUM = "/usr/bin/chromium"
ARGUMENTS = [
    "--no-sandbox",
    "--headless",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
    "--disable-quic",
]
SIZES = {"desktop": (1280, 900), "phone": (390, 844)}


@pytest.fixture
def place(tmp_path: Path) -> Iterator[Site]:
    """An empty store with its source."""
    found = Site(tmp_path / "site.db")
    yield found
    found.reader.close()
    found.store.close()


class Serving:
    """Pages of a source served by a thread, until stopped; live figures go out `every_s`."""

    def __init__(self, source: SiteSource, port: int = 0, every_s: float = EVERY_S) -> None:
        listener = listen("127.0.0.1", port)
        self.address = address_of(listener)
        self.port = listener.getsockname()[1]
        each_time = count()  # facts are never kept, so that a test sees its own at once
        app = create_app(source, clock=lambda: float(next(each_time)))
        app.state.stream = Stream(app.state.desk.message, every_s)
        self._server = PageServer(app, signals=False)
        self._thread = threading.Thread(
            target=lambda: asyncio.run(self._server.serve(sockets=[listener]))
        )
        self._thread.start()

    def stop(self) -> None:
        """Stop, open pages or not."""
        self._server.stop()
        self._thread.join(20)
        assert not self._thread.is_alive()


@contextmanager
def served(source: SiteSource, every_s: float) -> Iterator[str]:
    """The address of pages that tell every so often, until left."""
    serving = Serving(source, every_s=every_s)
    try:
        yield serving.address
    finally:
        serving.stop()


class Shown:
    """The pages of a source that may be exchanged, at their address."""

    def __init__(self, address: str, source: FixedSource) -> None:
        self.address = address
        self.source = source


@pytest.fixture(scope="module")
def shown() -> Iterator[Shown]:
    """Pages served by a thread on a free port."""
    source = FixedSource(site(line()))
    serving = Serving(source)
    yield Shown(serving.address, source)
    serving.stop()


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    """One Chromium for a file of tests; it holds an event loop, so it ends with the file."""
    with sync_playwright() as play:
        found = play.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS)
        yield found
        found.close()


@pytest.fixture
def context(browser: Browser, request: pytest.FixtureRequest) -> Iterator[BrowserContext]:
    """A fresh profile; parametrize with keyword arguments of `new_context`."""
    options = {"viewport": {"width": 1280, "height": 900}, **getattr(request, "param", {})}
    found = browser.new_context(**options)
    found.set_default_timeout(20_000)
    yield found
    found.close()


@pytest.fixture
def page(context: BrowserContext) -> Page:
    """A blank page of the fresh profile."""
    return context.new_page()
