"""The demonstration of a fleet: virtual sites on the real path, seen by people who sign in."""

from __future__ import annotations

import asyncio
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import httpx
import pytest
from sqlalchemy import select

from analytics.errors import LastLitreError, LinkError
from dashboards.fleet_demo import run_fleet_demo, show
from firmware_bridge.fleet.records.tables import cartridges, lines, sites
from firmware_bridge.fleet.virtual.house import VirtualFleet
from firmware_bridge.fleet.virtual.plans import CUSTOMER, plans
from tests.dashboards.access.served import sign_in

COUNT, FEW_DAYS = 2, 2
"""Two sites with two days of history, which are lived in a moment."""

pytestmark = [pytest.mark.peer, pytest.mark.timeout(180)]


async def eventually(what: str, true: Callable[[], Any], patience_s: float = 120.0) -> Any:
    """Wait until something is so; bed curves are drawn meanwhile, which takes some seconds."""
    loop = asyncio.get_running_loop()
    end_s = loop.time() + patience_s
    while not (found := true()):
        assert loop.time() < end_s, what
        await asyncio.sleep(0.1)
    return found


def test_the_fleet_is_invented_and_always_the_same() -> None:
    """Fifty sites of four media, one of each fault, three of one customer."""
    fifty = plans()

    assert fifty == plans()
    assert len({plan.site_id for plan in fifty}) == 50
    assert {plan.kind.medium for plan in fifty} == {"hydrogen", "mixed", "magnesium", "sodium"}
    assert {"silent", "clock", "stranger", "fouled", "leak"} <= {plan.fault for plan in fifty}
    assert sum(plan.customer == CUSTOMER for plan in fifty) == 3


async def test_virtual_sites_live_and_a_dispatcher_sees_them(tmp_path: Path) -> None:
    """Rows come the real way, the clock goes on once all have caught up, and the page that is
    printed lets the dispatcher in by the password that is printed. Processes and a broker are
    started, and beds drawn: some seconds."""
    fleet = VirtualFleet(tmp_path, count=COUNT, most_days=FEW_DAYS, speed=3600.0)
    said: list[str] = []
    stop = asyncio.Event()
    with fleet.running():
        showing = asyncio.create_task(show(fleet, 0, said.append, stop))
        try:
            await eventually("a line with address and password", lambda: said)
            address, password = found_in(said[0])
            await eventually("every site estimated", lambda: estimated(fleet) == COUNT)
            await eventually("the clock moving", lambda: fleet.clock.now_ms() > fleet.begin_ms)
            page = await due_page(address, password)
        finally:
            stop.set()
            await showing

    assert "Northgate Water Care" in page
    with fleet.records.read() as connection:
        states = set(connection.scalars(select(sites.c.state)))
        served = len(connection.execute(select(cartridges)).all())
    assert states == {"adopted"}
    assert served >= COUNT


def found_in(said: str) -> tuple[str, str]:
    """Address and password, as they are printed in one line."""
    found = re.fullmatch(r".*: (http://\S+) .*password (\S+) .*", said)
    assert found is not None, said
    return found[1], found[2]


def estimated(fleet: VirtualFleet) -> int:
    """Lines that have an estimate in the records."""
    with fleet.records.read() as connection:
        asked = select(lines.c.line_no).where(lines.c.estimate_ms.is_not(None))
        return len(connection.execute(asked).all())


async def due_page(address: str, password: str) -> str:
    """The first page a dispatcher sees."""
    async with httpx.AsyncClient(base_url=address, follow_redirects=True, timeout=60.0) as client:
        client.headers["origin"] = address
        answer = await sign_in(client, "dispatcher", password)
        assert answer.status_code == 200, answer.text
        return (await client.get("/due")).text


def test_without_a_broker_a_sentence_says_which_one_is_missing(tmp_path: Path) -> None:
    """Not a trace of calls."""
    fleet = VirtualFleet(tmp_path, count=1, broker="no-such-broker")

    with pytest.raises(LinkError, match="no-such-broker") as told, fleet.running():
        pass

    assert "apt-get install mosquitto" in told.value.hint
    fleet.records.close()


def test_a_folder_that_is_in_use_is_left_alone(tmp_path: Path) -> None:
    """A fleet that was shown before is not mixed with a new one."""
    (tmp_path / "fleet.sqlite").touch()

    with pytest.raises(LastLitreError, match="not empty"):
        run_fleet_demo(0, None, tmp_path, say=print)
