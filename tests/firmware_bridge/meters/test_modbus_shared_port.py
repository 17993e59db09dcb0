"""Two Modbus meters on one pair of wires: they take turns, and a dead one starves nobody."""

from __future__ import annotations

import asyncio
import sys
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

import pytest

from firmware_bridge.acquire import Acquire
from firmware_bridge.backoff import Backoff
from firmware_bridge.clock import SystemClock
from firmware_bridge.config.wiring import Site
from firmware_bridge.links.shared import Shared
from firmware_bridge.meters import asked_of, meter_named
from tests.firmware_bridge.config.site_files import compiled
from tests.firmware_bridge.meters.at_work import SITE, Rig, site_with
from tests.firmware_bridge.meters.modbus_peers import Cable, device, rtu_server

METERS = """
[[meter]]
driver = "modbus-rtu"
id = "probe"
port = "{port}"
unit = 7
every = "50 ms"
answer_within = "0.3 s"
[meter.outlet_conductivity]
address = 0
[meter.outlet_temperature]
address = 1
scale = 0.1

[[meter]]
driver = "modbus-rtu"
id = "second"
port = "{port}"
unit = {unit}
every = "50 ms"
answer_within = "0.3 s"
{more}
[meter.inlet_conductivity]
address = 0
[meter.inlet_temperature]
address = 1
scale = 0.1
"""


@asynccontextmanager
async def both_at_work(port: str, unit: int) -> AsyncIterator[dict[str, Rig]]:
    """Both meters of a site are read meanwhile, each as it would be in a running site."""
    site = site_with(METERS.format(port=port, unit=unit, more=""))
    shared, rigs = Shared(), dict[str, Rig]()
    for wired in site.wiring.meters:
        asked = asked_of(site, wired, SystemClock(), shared=shared)
        joined = meter_named(wired.driver).join(asked)
        rig = rigs[wired.meter_id] = Rig()
        rig.task = Acquire(
            wired.meter_id,
            joined.link,
            joined.driver,
            rig.deliver,
            clock=asked.clock,
            every_s=0.05,
            backoff=Backoff(0.2, 0.5),
        )
    tasks = [asyncio.create_task(rig.task.run()) for rig in rigs.values() if rig.task]
    try:
        yield rigs
    finally:
        for task in tasks:
            task.cancel()
        await asyncio.gather(*tasks, return_exceptions=True)


async def test_two_meters_share_a_port() -> None:
    """Each has its own rows, and no answer is taken for the other's."""
    async with Cable().plugged() as cable:
        devices = (device(7, [557, 150]), device(8, [662, 121]))
        async with (
            rtu_server(cable.other.port, *devices),
            both_at_work(cable.one.port, 8) as rigs,
        ):
            for rig in rigs.values():
                await rig.rows_more(10)
            probe, second = rigs["probe"], rigs["second"]

            assert set(probe.rows.outlet_us_cm) == {557.0}
            assert set(second.rows.inlet_us_cm) == {662.0}
            assert {rig.health.failures for rig in rigs.values()} == {0}


async def test_a_dead_unit_starves_nobody() -> None:
    """One meter is unplugged: it is said of it alone, and the other's rows go on."""
    async with (
        Cable().plugged() as cable,
        rtu_server(cable.other.port, device(7, [557, 150])),
        both_at_work(cable.one.port, 9) as rigs,
    ):
        probe, dead = rigs["probe"], rigs["second"]
        await dead.until(lambda rig: rig.health.failures >= 2, "two failures")
        await probe.rows_more(10)

        said = dead.health.last_fault
        assert "no unit answers" in said or "unit 9" in said
        assert probe.health.failures == 0
        assert set(probe.rows.outlet_us_cm) == {557.0}
        assert set(probe.rows.flags) == {0}


async def test_a_meter_that_comes_back_is_read_beside_the_other() -> None:
    """Nobody answers, the port is opened anew for both, then both are there."""
    async with Cable().plugged() as cable, both_at_work(cable.one.port, 8) as rigs:
        for rig in rigs.values():
            await rig.until(lambda r: r.health.failures >= 1, "failures")
        devices = (device(7, [557, 150]), device(8, [662, 121]))
        async with rtu_server(cable.other.port, *devices):
            await rigs["probe"].until(lambda r: r.newest("outlet_us_cm") == 557.0, "the one")
            await rigs["second"].until(lambda r: r.newest("inlet_us_cm") == 662.0, "the other")


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ("baud = 9600", "Use 19200 for both."),
        ('parity = "even"', "Use none for both."),
        ("stop_bits = 2", "Use 1 for both."),
    ],
)
def test_one_port_has_one_pace(more: str, said: str) -> None:
    """Two paces on one pair of wires are told before anything runs."""
    text = METERS.format(port="/dev/ttyUSB0", unit=8, more=more)
    found = compiled(SITE.format(k_factor="1000 pulse/L") + text)

    assert not isinstance(found, Site)
    assert any(said in str(fault) for fault in found)


HOLDER = """
import sys, serial
line = serial.Serial(sys.argv[1], 19200, exclusive=True)
print("held", flush=True)
sys.stdin.read()
"""


async def test_a_port_another_program_holds_is_said_and_read_once_it_is_free() -> None:
    """Neither meter disturbs whoever has it; both say what to check, and read when it lets go."""
    async with Cable().plugged() as cable:
        pipe = asyncio.subprocess.PIPE
        words = (sys.executable, "-c", HOLDER, cable.one.port)
        other = await asyncio.create_subprocess_exec(*words, stdin=pipe, stdout=pipe)
        assert other.stdout is not None
        assert other.stdin is not None
        assert await other.stdout.readline() == b"held\n"
        devices = (device(7, [557, 150]), device(8, [662, 121]))
        async with (
            rtu_server(cable.other.port, *devices),
            both_at_work(cable.one.port, 8) as rigs,
        ):
            for rig in rigs.values():
                await rig.until(lambda r: r.health.failures >= 2, "failures")
                assert cable.one.port in rig.health.last_fault
            assert all(not len(rig.rows) for rig in rigs.values())
            other.stdin.close()
            assert await other.wait() == 0
            for rig in rigs.values():
                await rig.rows_more(2)
