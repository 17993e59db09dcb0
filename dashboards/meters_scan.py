"""What `meters scan` says: each port, what answers there, what to do next."""

from __future__ import annotations

import asyncio
import re
from collections.abc import Callable
from pathlib import Path
from typing import TypeAlias

from analytics.errors import LinkError
from firmware_bridge.calibration.sight import open_sight
from firmware_bridge.scanning import Found, Wanted, scan_port, scan_tcp

Say: TypeAlias = Callable[[str], object]

TCP = re.compile(r"(?P<host>[^/\s:]+|\[[0-9A-Fa-f:]+\]):(?P<port>\d{1,5})")
SITE_WAIT_S = 12.0
NEXT = "Next: put this into the site file, then: lastlitre check SITE.toml"


async def scan_all(places: tuple[str, ...], wanted: Wanted, say: Say) -> None:
    """Scan every place, or every port there is."""
    found = 0
    for place in places or _all_ports(say):
        if Path(place).suffix == ".toml":
            await asyncio.to_thread(_scan_site, Path(place), say)
            continue
        found += await _scan_one(place, wanted, say)
    if found:
        say("")
        say(NEXT)


def _all_ports(say: Say) -> tuple[str, ...]:
    from firmware_bridge.links.ports import ports

    there = ports()
    for port in there:
        now = f" (now {port.device})" if port.name != port.device else ""
        say(f"port {port.name}{now}" + (f": {port.what}" if port.what else ""))
    if not there:
        say("No serial port has anything plugged in.")
        say("Is the cable a data cable? Name a port to look there all the same: meters scan PORT")
    return tuple(port.name for port in there)


async def _scan_one(place: str, wanted: Wanted, say: Say) -> int:
    say("")
    say(place)
    try:
        tcp = TCP.fullmatch(place)
        if tcp is not None:
            found = await scan_tcp(tcp["host"].strip("[]"), int(tcp["port"]), wanted)
        else:
            found = await scan_port(place, wanted, lambda what: say(f"  {what} ..."))
    except LinkError as fault:
        say(f"  {fault}")
        say(f"  {fault.hint}")
        return 0
    _tell(found, wanted, say)
    return len(found)


def _tell(found: list[Found], wanted: Wanted, say: Say) -> None:
    if not found:
        span = f"{min(wanted.units)}-{max(wanted.units)}"
        say("  nothing answers.")
        say(f"  Asked for: a node, text, Modbus units {span}. A device with another unit or pace?")
        say("  Try: --units 1-247, --baud 4800; swap A and B; is it switched on?")
    for one in found:
        say(f"  answers: {one.said}")
        for line in one.site_file.splitlines():
            say(f"    {line}".rstrip())


def _scan_site(path: Path, say: Say) -> None:
    """Each meter of a site file, read as it says."""
    import time

    from firmware_bridge import config
    from firmware_bridge.logs import hush_logs

    hush_logs()
    site = config.load(path)
    sight = open_sight(site)
    say("")
    say(f"{path}: {site.setup.name}")
    try:
        if not sight.direct:
            say("  The site is running and holds the ports.")
            say(f"  Next: lastlitre meters watch {path}")
            return
        end = time.monotonic() + SITE_WAIT_S
        while time.monotonic() < end and not all(map(len, sight.meter_rows().values())):
            time.sleep(0.1)
        rows = sight.meter_rows()
        for health in sight.health():
            said = f"{len(rows[health.meter_id])} rows" if len(rows[health.meter_id]) else "silent"
            say(f"  {health.meter_id} on {health.port}: {said}")
            if health.last_fault:
                say(f"    {health.last_fault}")
    finally:
        sight.close()
    say(f"  Next: lastlitre meters watch {path}")
