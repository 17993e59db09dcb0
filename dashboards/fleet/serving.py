"""The fleet's pages served, and the programs of others told, until told to stop."""

from __future__ import annotations

import asyncio
import signal
from collections.abc import Callable
from pathlib import Path

import structlog
from starlette.routing import BaseRoute

from dashboards.access.patience import is_loopback
from dashboards.access.rules import rules_of
from dashboards.fleet.api.state import wall_ms
from dashboards.fleet.app import create_app
from dashboards.fleet.asked import House
from dashboards.fleet.door import FleetAccess, FleetPeople
from dashboards.serving import address_of, checked_keys, listen, serve
from firmware_bridge.fleet.config import FleetFile, FleetPage
from firmware_bridge.fleet.hooks import HookRunner
from firmware_bridge.fleet.identity.enrolling import Enrolling
from firmware_bridge.fleet.records.engine import Records

LOOPBACK = "127.0.0.1"
Say = Callable[[str], object]

log = structlog.get_logger(__name__)


def serve_until_told(
    records: Records, file: FleetFile, say: Say, beside: tuple[BaseRoute, ...] = ()
) -> None:
    """Serve the pages, and tell webhooks, until SIGINT or SIGTERM. Raises LinkError where the port
    is taken or the certificate cannot be used."""
    asyncio.run(_until_signal(records, file, say, beside))


async def serve_fleet(
    records: Records,
    file: FleetFile,
    stop: asyncio.Event,
    say: Say,
    beside: tuple[BaseRoute, ...] = (),
) -> None:
    """Serve the pages, and tell webhooks, until `stop` is set.

    Nothing is seen without signing in. While nobody was let in yet, and where passwords would go
    over the network in clear, the pages keep to this machine.
    """
    page = file.page
    people = FleetPeople(records, sessions_of(file))
    keys = checked_keys(page.tls_cert, page.tls_key) if page.tls_cert and page.tls_key else None
    to_network = not (is_loopback(page.host) or page.host == "localhost")
    host = page.host
    if to_network and not await asyncio.to_thread(people.anybody):
        to_network, host = False, LOOPBACK
        say(f"Nobody has been let in yet, so the pages are not shown on {page.host}.")
        log.warning("fleet.loopback-only", stated=page.host)
    listener = listen(host, page.port)
    address = address_of(listener, keys, path="")
    house = House(
        company=file.company,
        time_zone=file.time_zone,
        silent_ms=round(file.silent_after_s * 1000),
        address=outside_address(page, address),
    )
    access = FleetAccess(people, rules_of(page, open_to_network=to_network))
    enrolling = None if file.joining is None else Enrolling(records, file.joining, wall_ms)
    app = create_app(records, house, access=access, beside=beside, enrolling=enrolling)
    say(f"The pages: {address}   (Ctrl-C stops)")
    telling = asyncio.create_task(HookRunner(records).run(stop))
    try:
        await serve(app, listener, stop=stop, keys=keys)
    finally:
        stop.set()
        await telling


def sessions_of(file: FleetFile) -> Path:
    """Where it is kept who is signed in: beside the fleet file."""
    return Path(file.folder) / "fleet.sessions"


def outside_address(page: FleetPage, address: str) -> str:
    """What links begin with that people are sent: the first name that is stated, where there is
    one; a proxy in front is taken to answer by https."""
    if not page.names:
        return address
    if page.proxies:
        return f"https://{page.names[0]}"
    way, _, rest = address.partition("://")
    return f"{way}://{page.names[0]}:{rest.rpartition(':')[2]}"


async def _until_signal(
    records: Records, file: FleetFile, say: Say, beside: tuple[BaseRoute, ...]
) -> None:
    stop = asyncio.Event()
    loop = asyncio.get_running_loop()
    for number in (signal.SIGINT, signal.SIGTERM):
        loop.add_signal_handler(number, stop.set)
    await serve_fleet(records, file, stop, say, beside)
