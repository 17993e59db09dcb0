"""`lastlitre demo --fleet`: the service company's pages over fifty virtual sites."""

from __future__ import annotations

import asyncio
import secrets
import signal
import tempfile
from collections.abc import Callable
from pathlib import Path

import msgspec

from analytics.errors import LastLitreError
from dashboards.access.passwords import key_of
from dashboards.access.rules import rules_of
from dashboards.fleet.app import create_app
from dashboards.fleet.asked import House
from dashboards.fleet.door import FleetAccess, FleetPeople
from dashboards.fleet.serving import sessions_of
from dashboards.fleet_command import need_libraries
from dashboards.serving import address_of, listen, serve
from firmware_bridge.fleet.config import FleetPage
from firmware_bridge.fleet.people import acts
from firmware_bridge.fleet.people.acts import Doer, Invitee
from firmware_bridge.fleet.people.kept import Kept
from firmware_bridge.fleet.records.engine import Records
from firmware_bridge.fleet.virtual.house import SPEED, VirtualFleet
from firmware_bridge.fleet.virtual.plans import CUSTOMER
from firmware_bridge.logs import set_up_logs

Say = Callable[[str], object]
PEOPLE = (
    Invitee(login="owner", name="Noor Field", role="owner"),
    Invitee(login="dispatcher", name="Ida Marsh", role="dispatcher"),
    Invitee(login="technician", name="Tom Weir", role="technician"),
    Invitee(login="customer", name="Ann Shore", role="customer", customer=CUSTOMER),
)
"""Invented people who may sign in, one of each role."""


def run_fleet_demo(port: int, speed: float | None, folder: Path | None, *, say: Say) -> None:
    """Run the demonstration of a fleet until a signal says stop; without a folder everything is
    gone afterwards. Raises LinkError where there is no broker, or the port is taken."""
    need_libraries()
    set_up_logs()
    with tempfile.TemporaryDirectory(prefix="lastlitre-fleet-") as scratch:
        place = folder or Path(scratch)
        place.mkdir(parents=True, exist_ok=True)
        if any(place.iterdir()):
            raise LastLitreError(f"{place} is not empty.", "Choose a new folder for the fleet.")
        fleet = VirtualFleet(place, speed=speed or SPEED)
        with fleet.running():
            asyncio.run(_until_signal(fleet, port, say))


def let_people_in(records: Records, now_ms: int) -> str:
    """One person of every role with one password between them, which is told once."""
    password = secrets.token_urlsafe(9)
    text = Kept(key=msgspec.json.encode(key_of(password)).decode()).text()
    doer = Doer(person_no=None, at_ms=now_ms)
    with records.begin() as connection:
        for person in PEOPLE:
            number, _ = acts.invite(connection, doer, person)
            acts.keep_password(connection, doer, number, text)
    return password


async def _until_signal(fleet: VirtualFleet, port: int, say: Say) -> None:
    stop = asyncio.Event()
    loop = asyncio.get_running_loop()
    for number in (signal.SIGINT, signal.SIGTERM):
        loop.add_signal_handler(number, stop.set)
    await show(fleet, port, say, stop)


async def show(fleet: VirtualFleet, port: int, say: Say, stop: asyncio.Event) -> None:
    """Serve the pages and keep the virtual clock going until `stop`."""
    file = fleet.fleet.file
    password = await asyncio.to_thread(let_people_in, fleet.records, fleet.begin_ms)
    listener = listen("127.0.0.1", port)
    people = FleetPeople(fleet.records, sessions_of(file))
    access = FleetAccess(people, rules_of(FleetPage(port=port), open_to_network=False))
    address = address_of(listener, path="")
    house = House(company=file.company, address=address)
    app = create_app(fleet.records, house, access=access, now_ms=fleet.clock.now_ms)
    logins = ", ".join(person.login for person in PEOPLE)
    say(f"{file.company}: {address}   sign in as {logins}; password {password}   (Ctrl-C stops)")
    pace = asyncio.create_task(fleet.keep_pace(stop))
    try:
        await serve(app, listener, stop=stop)
    finally:
        stop.set()
        await pace
