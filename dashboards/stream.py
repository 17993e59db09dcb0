"""Live figures to open pages as server-sent events.

One message a second is written for each kind of reader (language and units) and line, and the same
bytes go to every page of that kind through bounded queues that drop their oldest. While no page is
open nothing is read.
"""

from __future__ import annotations

import asyncio
from collections import deque
from collections.abc import AsyncIterator, Awaitable, Callable, Hashable
from typing import Generic, TypeVar

EVERY_S = 1.0
QUEUE = 4
CLOSED = b""


class Mailbox:
    """The bounded queue of one open page."""

    def __init__(self, size: int = QUEUE) -> None:
        self._waiting: deque[bytes] = deque(maxlen=size)
        self._ready = asyncio.Event()

    def offer(self, message: bytes) -> None:
        """Put a message in; where the page has fallen behind, its oldest gives way."""
        self._waiting.append(message)
        self._ready.set()

    async def take(self) -> bytes:
        """The oldest message waiting; waits for one."""
        while not self._waiting:
            self._ready.clear()
            await self._ready.wait()
        return self._waiting.popleft()


Kind = TypeVar("Kind", bound=Hashable)


class Stream(Generic[Kind]):
    """All open pages of one server, by kind; `write(kind)` gives a kind's message."""

    def __init__(self, write: Callable[[Kind], Awaitable[bytes]], every_s: float = EVERY_S) -> None:
        self._write = write
        self._every_s = every_s
        self._boxes: dict[Kind, set[Mailbox]] = {}
        self._beat: asyncio.Task[None] | None = None
        self._closed = False

    @property
    def open_pages(self) -> int:
        """How many pages listen."""
        return sum(map(len, self._boxes.values()))

    async def listen(self, kind: Kind) -> AsyncIterator[bytes]:
        """Messages for one page, the first at once, until it leaves or the stream is closed."""
        if self._closed:
            return
        box = Mailbox()
        self._boxes.setdefault(kind, set()).add(box)
        try:
            if self._beat is None or self._beat.done():
                self._beat = asyncio.create_task(self._run())
            box.offer(await self._write(kind))
            while (message := await box.take()) != CLOSED:
                yield message
        finally:
            self._leave(kind, box)

    def _leave(self, kind: Kind, box: Mailbox) -> None:
        self._boxes[kind].discard(box)
        if not self._boxes[kind]:
            del self._boxes[kind]

    async def _run(self) -> None:
        """Write one message a kind every `every_s` for as long as a page listens."""
        loop = asyncio.get_running_loop()
        due = loop.time()
        while self._boxes:
            due = max(due + self._every_s, loop.time())
            await asyncio.sleep(due - loop.time())
            for kind in tuple(self._boxes):
                message = await self._write(kind)
                for box in self._boxes.get(kind, ()):
                    box.offer(message)

    def close(self) -> None:
        """End every open page's stream, now and for good; called on the event loop."""
        self._closed = True
        for boxes in self._boxes.values():
            for box in boxes:
                box.offer(CLOSED)


def event(data: bytes) -> bytes:
    """One server-sent event; a browser that loses the stream comes back after two seconds."""
    return b"retry: 2000\ndata: %b\n\n" % data
