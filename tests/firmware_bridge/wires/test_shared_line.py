"""Several listeners on one port: all hear all, the last closes it, a slow one holds it back."""

from __future__ import annotations

import asyncio

import pytest

from analytics.errors import LinkError
from firmware_bridge.links.shared_line import UNREAD_MOST, SharedLine
from tests.firmware_bridge.wires.boards import until


class Port:
    """A link that gives what the test hands it; hand-written, for the moments at which it does."""

    name = "port"

    def __init__(self) -> None:
        self.comes: asyncio.Queue[bytes | LinkError] = asyncio.Queue()
        self.opened = 0
        self.closed = 0
        self.sent = b""

    async def open(self) -> None:
        self.opened += 1

    async def read(self) -> bytes:
        found = await self.comes.get()
        if isinstance(found, LinkError):
            raise found
        return found

    def write(self, data: bytes) -> None:
        self.sent += data

    def close(self) -> None:
        self.closed += 1


async def test_all_hear_all_and_the_last_closes() -> None:
    """The port is opened once, each listener gets every byte, and may write."""
    port = Port()
    line = SharedLine(port)
    one, other = line.tap(), line.tap()
    await asyncio.gather(one.open(), other.open())
    port.comes.put_nowait(b"abc")
    heard = [await one.read(), await other.read()]
    other.write(b"me too")
    one.close()
    still_open = port.closed == 0
    port.comes.put_nowait(b"d")
    heard.append(await other.read())
    other.close()

    assert heard == [b"abc", b"abc", b"d"]
    assert (port.opened, port.sent, still_open, port.closed) == (1, b"me too", True, 1)


async def test_a_port_that_vanishes_is_told_to_all_and_opened_again() -> None:
    """What came before is still read; then everybody learns it, and may open it anew."""
    port = Port()
    line = SharedLine(port)
    one, other = line.tap(), line.tap()
    await one.open()
    await other.open()
    port.comes.put_nowait(b"last")
    port.comes.put_nowait(LinkError("port is gone"))
    for tap in (one, other):
        assert await tap.read() == b"last"
        with pytest.raises(LinkError, match="gone"):
            await tap.read()
    await one.open()
    port.comes.put_nowait(b"back")
    again = await one.read()
    other.close()
    port.comes.put_nowait(b"on")

    assert again == b"back"
    assert await one.read() == b"on"
    assert port.opened == 2
    one.close()


async def test_a_slow_listener_holds_the_port_back() -> None:
    """No more is read than it may have waiting; once it has read, or gone, it goes on."""
    port = Port()
    line = SharedLine(port)
    quick, slow = line.tap(), line.tap()
    await quick.open()
    await slow.open()
    port.comes.put_nowait(bytes(UNREAD_MOST + 1))
    port.comes.put_nowait(b"x")
    port.comes.put_nowait(b"y")
    await quick.read()
    await until(lambda: port.comes.qsize() == 2)
    waiting = port.comes.qsize()
    await slow.read()
    more = await quick.read()
    slow.close()

    assert waiting == 2
    assert more[:1] == b"x"
    quick.close()
