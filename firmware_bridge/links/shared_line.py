"""One port that several meters listen to: each hears every byte, and each may write.

port -> pump -> tap, tap, ...        opened by the first tap, let go of by the last
"""

from __future__ import annotations

import asyncio
from collections import deque

from analytics.errors import LinkError
from firmware_bridge.links import Link

UNREAD_MOST = 1 << 20
"""While a tap holds so many bytes nobody took, the port is left alone: the node keeps its rows."""


class SharedLine:
    """A link and those who listen to it. All on one event loop."""

    def __init__(self, link: Link) -> None:
        self._link = link
        self._open: list[Tap] = []
        self._pump: asyncio.Task[None] | None = None
        self._turn = asyncio.Lock()

    @property
    def name(self) -> str:
        """The port."""
        return self._link.name

    def tap(self) -> Tap:
        """One more listener, not open yet."""
        return Tap(self)

    async def join(self, tap: Tap) -> None:
        """Listen from here on; the first opens the port. Raises LinkError."""
        async with self._turn:
            if self._pump is None:
                await self._link.open()
                self._pump = asyncio.create_task(self._carry())
            self._open.append(tap)

    def leave(self, tap: Tap) -> None:
        """Listen no more; the last lets go of the port."""
        if tap in self._open:
            self._open.remove(tap)
        if not self._open:
            self._let_go()

    def write(self, data: bytes) -> None:
        """Send, for whoever it is from."""
        self._link.write(data)

    def _let_go(self) -> None:
        if self._pump is not None:
            self._pump.cancel()
            self._pump = None
            self._link.close()

    async def _carry(self) -> None:
        """Hand every byte to every tap, until the port is gone."""
        try:
            while True:
                data = await self._link.read()
                for tap in self._open:
                    tap.put(data)
                while full := next((tap for tap in self._open if tap.full), None):
                    await full.room()
        except LinkError as fault:
            self._pump = None
            self._link.close()
            for tap in self._open:
                tap.fail(fault)
            self._open = []


class Tap:
    """A shared line as one of its listeners sees it: a link of its own."""

    def __init__(self, line: SharedLine) -> None:
        self._line = line
        self._got: deque[bytes] = deque()
        self._unread = 0
        self._heard = asyncio.Event()
        self._room = asyncio.Event()
        self._lost: LinkError | None = None
        self._joined = False

    @property
    def name(self) -> str:
        return self._line.name

    async def open(self) -> None:
        """Listen. Raises LinkError."""
        self.close()
        self._lost = None
        await self._line.join(self)
        self._joined = True

    async def read(self) -> bytes:
        """What came since the last time. Raises LinkError when the port has vanished."""
        while not self._got:
            if self._lost is not None:
                raise self._lost
            if not self._joined:
                raise LinkError(f"{self.name} is not open")
            self._heard.clear()
            await self._heard.wait()
        data = b"".join(self._got)
        self._forget()
        return data

    def write(self, data: bytes) -> None:
        """Send."""
        if self._joined and self._lost is None and data:
            self._line.write(data)

    def close(self) -> None:
        """Listen no more."""
        self._joined = False
        self._forget()
        self._line.leave(self)
        self._heard.set()

    def put(self, data: bytes) -> None:
        """Bytes came."""
        self._got.append(data)
        self._unread += len(data)
        self._heard.set()

    @property
    def full(self) -> bool:
        """Whether so much waits for this listener that no more should come."""
        return self._unread > UNREAD_MOST

    async def room(self) -> None:
        """Wait until this listener has taken what waits, or listens no more."""
        self._room.clear()
        await self._room.wait()

    def fail(self, fault: LinkError) -> None:
        """The port is gone; what came is still read, then this is raised."""
        self._lost = fault
        self._heard.set()

    def _forget(self) -> None:
        self._got.clear()
        self._unread = 0
        self._room.set()
