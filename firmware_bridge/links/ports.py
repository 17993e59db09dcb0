"""Serial ports of this machine, by the name that stays the same when a plug moves."""

from __future__ import annotations

from pathlib import Path

import msgspec
from serial.tools import list_ports

BY_ID = Path("/dev/serial/by-id")


class Port(msgspec.Struct, frozen=True, kw_only=True):
    """A port: the name to use, the name it has now, what the plug says it is."""

    name: str
    device: str
    what: str = ""


def ports() -> list[Port]:
    """Every serial port that has something plugged in."""
    lasting = _lasting()
    found = []
    for port in list_ports.comports():
        device = str(port.device)
        if port.vid is None and not str(port.description or "n/a").strip("n/a"):
            continue  # sockets on the board with nothing behind them
        found.append(
            Port(name=lasting.get(device, device), device=device, what=str(port.description or ""))
        )
    return sorted(found, key=lambda port: port.name)


def _lasting() -> dict[str, str]:
    if not BY_ID.is_dir():
        return {}
    return {str(link.resolve()): str(link) for link in sorted(BY_ID.iterdir())}
