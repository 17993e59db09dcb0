"""What `meters scan` says: each port, what answers there, what to do next."""

from __future__ import annotations

import asyncio
import re
from collections.abc import Callable
from pathlib import Path
from typing import TypeAlias

from analytics.errors import LinkError
from dashboards.phrases.reader import Reader
from firmware_bridge.calibration.sight import open_sight
from firmware_bridge.scanning import Found, Wanted, scan_port, scan_tcp

Say: TypeAlias = Callable[[str], object]

TCP = re.compile(r"(?P<host>[^/\s:]+|\[[0-9A-Fa-f:]+\]):(?P<port>\d{1,5})")
SITE_WAIT_S = 12.0


async def scan_all(places: tuple[str, ...], wanted: Wanted, reader: Reader, say: Say) -> None:
    """Scan every place, or every port there is."""
    found = 0
    for place in places or _all_ports(reader, say):
        if Path(place).suffix == ".toml":
            await asyncio.to_thread(_scan_site, Path(place), say)
            continue
        found += await _scan_one(place, wanted, reader, say)
    if found:
        say("")
        say(reader.say("scan.next"))


def _all_ports(reader: Reader, say: Say) -> tuple[str, ...]:
    from firmware_bridge.links.ports import ports

    there = ports()
    for port in there:
        key = "scan.port" if port.name == port.device else "scan.port-now"
        said = reader.say(key, port=port.name, device=port.device)
        say(f"{said}: {port.what}" if port.what else said)
    if not there:
        say(reader.say("scan.none"))
        say(reader.say("scan.none-mend"))
    return tuple(port.name for port in there)


async def _scan_one(place: str, wanted: Wanted, reader: Reader, say: Say) -> int:
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
    _tell(found, wanted, reader, say)
    return len(found)


def _tell(found: list[Found], wanted: Wanted, reader: Reader, say: Say) -> None:
    if not found:
        span = f"{min(wanted.units)}-{max(wanted.units)}"
        say(f"  {reader.say('scan.nothing')}")
        say(f"  {reader.say('scan.asked', span=span)}")
        say(f"  {reader.say('scan.try')}")
    for one in found:
        say(f"  {reader.say('scan.answers', said=one.said)}")
        for line in one.site_file.splitlines():
            say(f"    {line}".rstrip())


def _scan_site(path: Path, say: Say) -> None:
    """Each meter of a site file, read as it says."""
    import time

    from dashboards.taste import usual_taste
    from firmware_bridge import config
    from firmware_bridge.logs import hush_logs

    hush_logs()
    site = config.load(path)
    words = usual_taste(site.wiring.language).reader().say
    sight = open_sight(site)
    say("")
    say(f"{path}: {site.setup.name}")
    try:
        if not sight.direct:
            say(f"  {words('scan.busy')}")
            say(f"  {words('scan.next-watch', path=str(path))}")
            return
        end = time.monotonic() + SITE_WAIT_S
        while time.monotonic() < end and not all(map(len, sight.meter_rows().values())):
            time.sleep(0.1)
        rows = sight.meter_rows()
        for health in sight.health():
            count = len(rows[health.meter_id])
            said = words("scan.rows", n=count) if count else words("scan.silent")
            meter = words("scan.meter", meter=health.meter_id, port=health.port, said=said)
            say(f"  {meter}")
            if health.last_fault:
                say(f"    {health.last_fault}")
    finally:
        sight.close()
    say(f"  {words('scan.next-watch', path=str(path))}")
