"""A link that asks its meters by itself, again and again, in a task of its own."""

from __future__ import annotations

import asyncio
import contextlib

import structlog

from analytics.errors import LinkError
from firmware_bridge.links.post import Post

_log = structlog.get_logger(__name__)


class AskedLink:
    """What such links share: a name, a post box, and the life of the task.

    A link of this kind says how it is connected (`connect`), what it does while it is open
    (`talk`, which puts messages and ends with LinkError at the latest) and how it lets go.
    """

    def __init__(self, name: str) -> None:
        self.post = Post()
        self._name = name
        self._task: asyncio.Task[None] | None = None

    @property
    def name(self) -> str:
        return self._name

    async def open(self) -> None:
        """Connect, and begin to ask. Raises LinkError."""
        self.close()
        self.post.begin()
        await self.connect()
        self._task = asyncio.create_task(self._life())

    async def read(self) -> bytes:
        """What came since the last time, a message a line. Raises LinkError."""
        return await self.post.read()

    def write(self, data: bytes) -> None:
        """Nothing is ever written to such a meter but the questions of `talk`."""

    def close(self) -> None:
        """Stop asking and let go; harmless when it is not open."""
        if self._task is not None:
            self._task.cancel()
            self._task = None
        self.let_go()

    async def connect(self) -> None:
        """Take the line. Raises LinkError."""
        raise NotImplementedError

    async def talk(self) -> None:
        """Ask until cancelled. Raises LinkError when the line is lost."""
        raise NotImplementedError

    def let_go(self) -> None:
        """Leave the line; harmless when it is left."""
        raise NotImplementedError

    async def _life(self) -> None:
        with contextlib.suppress(asyncio.CancelledError):
            try:
                await self.talk()
            except LinkError as fault:
                self.post.fail(fault)
            except Exception as fault:  # noqa: BLE001 - or the meter would hang for ever
                _log.exception("link.fault", link=self._name)
                self.post.fail(LinkError(f"{self._name}: {type(fault).__name__}: {fault}"))
