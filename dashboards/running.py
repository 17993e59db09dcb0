"""Run a site, or the demonstration, with its page, until a signal says stop."""

from __future__ import annotations

import asyncio
import importlib
import signal
import tempfile
from collections.abc import Callable, Coroutine
from pathlib import Path
from typing import Any

from firmware_bridge.clock import Clock
from firmware_bridge.config import Site
from firmware_bridge.daemon import Face, Running, run_site
from firmware_bridge.logs import set_up_logs
from firmware_bridge.notify.notice import Teller
from firmware_bridge.thrift import hold_little

Say = Callable[[str], object]


def run_until_stopped(site: Site, clock: Clock, *, page: bool, say: Say) -> None:
    """Run a site until SIGINT or SIGTERM."""
    hold_little()
    if page or site.wiring.notifiers:  # whoever tells nobody needs no words
        importlib.import_module("dashboards.taste").usual_taste(site.wiring.language)
    set_up_logs()
    faces = (page_face(say),) if page else ()
    teller = teller_of(site)
    asyncio.run(_until_signal(lambda stop: run_site(site, clock, stop, faces=faces, teller=teller)))


def teller_of(site: Site) -> Teller | None:
    """The words of notices to people, where somebody is to be told."""
    if not site.wiring.notifiers:
        return None
    notices = importlib.import_module("dashboards.phrases.notices")
    teller: Teller = notices.CatalogueTeller(site.setup, site.wiring.language)
    return teller


def run_demo(port: int, speed: float, folder: Path | None, *, say: Say) -> None:
    """Run the demonstration; without a folder everything is gone afterwards."""
    from firmware_bridge.demo import Demo, demo_site

    hold_little()
    set_up_logs()
    with tempfile.TemporaryDirectory(prefix="lastlitre-demo-") as scratch:
        place = folder or Path(scratch)
        place.mkdir(parents=True, exist_ok=True)
        demo = Demo(speed)
        site = demo_site(place, port)
        faces = (page_face(say, lambda: demo.clock.speed), demo.change_cartridges, demo.keep_pace)
        say(
            "Harbour Steps, a virtual café. One second here is "
            f"{speed / 3600:.1f} hours there; its cartridge lasts about five weeks."
        )

        def work(stop: asyncio.Event) -> Coroutine[Any, Any, None]:
            return run_site(site, demo.clock, stop, faces=faces, speed=speed, meter=demo.meter)

        asyncio.run(_until_signal(work))


def page_face(say: Say, speed: Callable[[], float] = lambda: 1.0) -> Face:
    """The pages of a running site. Without them the daemon loads no web server."""

    async def face(running: Running, stop: asyncio.Event) -> None:
        # loading takes half a second: beside the meters, not before them
        web = await asyncio.to_thread(importlib.import_module, "dashboards.web")
        sources = await asyncio.to_thread(importlib.import_module, "dashboards.store_source")
        tastes = await asyncio.to_thread(importlib.import_module, "dashboards.taste")
        door = await asyncio.to_thread(importlib.import_module, "dashboards.access.door")
        opened = await asyncio.to_thread(door.opened, running.site)
        source = sources.StoreSource(
            running.site.setup,
            running.store.reader(),
            running.live,
            running.clock,
            speed,
            importlib.import_module("dashboards.ways").ways_of(running),
        )
        say(f"The page: {opened.address}   (Ctrl-C stops)")
        for sentence in opened.remarks:
            say(sentence)
        figures = await asyncio.to_thread(importlib.import_module, "dashboards.site_metrics")
        metrics = figures.metrics_of(running, running.store.reader())
        notebooks = await asyncio.to_thread(
            importlib.import_module, "dashboards.commissioning.notebook"
        )
        app = web.create_app(
            source,
            taste=tastes.usual_taste(running.site.wiring.language),
            access=opened.access,
            book=running.book,
            metrics=metrics,
            bench=running.store.reader(),
            notebook=notebooks.Notebook(Path(running.site.wiring.store_path)),
        )
        await web.serve(app, opened.listener, stop=stop, keys=opened.keys)

    return face


async def _until_signal(work: Callable[[asyncio.Event], Coroutine[Any, Any, None]]) -> None:
    stop = asyncio.Event()
    loop = asyncio.get_running_loop()
    for number in (signal.SIGINT, signal.SIGTERM):
        loop.add_signal_handler(number, stop.set)
    await work(stop)
