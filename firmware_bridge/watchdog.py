"""Word to the service manager: ready, still alive, stopping (the protocol of sd_notify(3)).

A datagram of KEY=VALUE lines goes to the socket that NOTIFY_SOCKET names. Where there is none,
nothing is sent. The watchdog is fed only while the site's loop makes progress: an event loop that
hangs cannot feed it, and neither can one whose work stands still.
"""

from __future__ import annotations

import asyncio
import contextlib
import os
import socket
from collections.abc import Callable, Mapping

import msgspec
import structlog

log = structlog.get_logger(__name__)


class Manager(msgspec.Struct, frozen=True, kw_only=True):
    """Where to send word, and after how many seconds of silence the manager acts (None: never)."""

    address: str = ""
    watchdog_s: float | None = None

    def tell(self, word: str) -> None:
        """Send one line, such as READY=1; a manager that does not listen is no reason to stop."""
        if not self.address:
            return
        with contextlib.suppress(OSError), socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as line:
            line.setblocking(False)
            line.sendto(word.encode(), _name(self.address))


def manager_of(environment: Mapping[str, str] = os.environ) -> Manager:
    """The service manager that started this process, if one did."""
    address = environment.get("NOTIFY_SOCKET", "")
    if not address.startswith(("/", "@")):
        return Manager()
    mine = environment.get("WATCHDOG_PID", str(os.getpid())) == str(os.getpid())
    usec = environment.get("WATCHDOG_USEC", "")
    fits = mine and usec.isdecimal() and int(usec) > 0
    return Manager(address=address, watchdog_s=int(usec) / 1e6 if fits else None)


async def feed(manager: Manager, beats: Callable[[], int], ended: asyncio.Event) -> None:
    """Say that all is ready, then feed the watchdog while `beats` goes up, until `ended`."""
    manager.tell("READY=1")
    every_s = manager.watchdog_s / 4 if manager.watchdog_s else 3600.0
    seen, still = beats(), False
    while not ended.is_set():
        with contextlib.suppress(TimeoutError):
            await asyncio.wait_for(ended.wait(), every_s)
        now = beats()
        if now != seen:
            manager.tell("WATCHDOG=1")
        elif manager.watchdog_s and not still and not ended.is_set():
            log.error("site.stands-still", restart_within_s=manager.watchdog_s)
        still, seen = now == seen, now


def _name(address: str) -> str:
    """An address that begins with @ is one without a file."""
    return "\0" + address[1:] if address.startswith("@") else address
