"""Bytes in and out: serial lines and, later, buses and sockets."""

from __future__ import annotations

from typing import Protocol


class Link(Protocol):
    """A way to a meter that can be opened again and again."""

    @property
    def name(self) -> str:
        """What a person calls it: the port."""
        ...

    async def open(self) -> None:
        """Open it. Raises LinkError, naming the port and what to do."""
        ...

    async def read(self) -> bytes:
        """The bytes that have come, at least one. Raises LinkError when the port is gone."""
        ...

    def write(self, data: bytes) -> None:
        """Send these bytes as soon as the port takes them; beyond a limit they are dropped."""
        ...

    def close(self) -> None:
        """Let go of the port; harmless when it is not open."""
        ...
