"""Messages of a link that talks by itself, a line each, until the driver takes them."""

from __future__ import annotations

import asyncio
from collections import deque

from analytics.errors import LinkError

MOST = 4_000
"""Messages held while nobody takes them; beyond, the oldest are let go of and counted."""


class Post:
    """A queue between a link's own task and `Link.read`. All on one event loop."""

    def __init__(self) -> None:
        self._waiting: deque[bytes] = deque()
        self._ready = asyncio.Event()
        self._lost: LinkError | None = None
        self.dropped = 0

    def put(self, message: bytes) -> None:
        """One message, without a newline in it."""
        if len(self._waiting) >= MOST:
            self._waiting.popleft()
            self.dropped += 1
        self._waiting.append(message + b"\n")
        self._ready.set()

    def fail(self, fault: LinkError) -> None:
        """What was put is still read, then this is raised."""
        self._lost = self._lost or fault
        self._ready.set()

    def begin(self) -> None:
        """Nothing waits and nothing is wrong."""
        self._waiting.clear()
        self._ready.clear()
        self._lost = None

    async def read(self) -> bytes:
        """All that waits, at least one message. Raises LinkError once the link is lost."""
        while not self._waiting:
            if self._lost is not None:
                raise self._lost
            self._ready.clear()
            await self._ready.wait()
        data = b"".join(self._waiting)
        self._waiting.clear()
        return data
