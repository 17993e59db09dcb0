"""A serial port: pyserial sets it up, the event loop reads it without ever waiting on it."""

from __future__ import annotations

import asyncio
import errno
import os
import termios
from collections import deque

import serial

from analytics.errors import LinkError

CHUNK = 65_536
UNREAD_MOST = 1 << 20
"""When nobody takes the bytes, the port is left alone from here on: the node keeps its rows."""
UNSENT_MOST = 1 << 16

_RIGHTS = "Let this user use the port: sudo usermod -a -G dialout $USER, then log in anew."
_HINTS = {
    errno.ENOENT: "Check that the node is plugged in and that `port` names it.",
    errno.EACCES: _RIGHTS,
    errno.EPERM: _RIGHTS,
    errno.EAGAIN: "Another program holds this port; stop it, or give it another port.",
    errno.EBUSY: "Another program holds this port; stop it, or give it another port.",
}
_ANY_HINT = "Check the cable and the `port` in the site file."


class SerialLine:
    """One serial port at a stated pace (bits a second), 8 data bits, no parity."""

    def __init__(self, port: str, baud: int = 115_200) -> None:
        self._port = port
        self._baud = baud
        self._line: serial.Serial | None = None
        self._fd = -1
        self._got: deque[bytes] = deque()
        self._unread = 0
        self._paused = False
        self._ready = asyncio.Event()
        self._lost: LinkError | None = None
        self._unsent = b""

    @property
    def name(self) -> str:
        return self._port

    async def open(self) -> None:
        """Take the port for this program alone. Raises LinkError."""
        self.close()
        try:
            line = await asyncio.to_thread(self._take)
        except (OSError, ValueError, termios.error) as exc:  # pyserial's own are OSErrors
            raise self._fault("cannot be opened", exc) from exc
        self._line, self._fd = line, line.fileno()
        self._lost, self._unsent = None, b""
        self._got.clear()
        self._unread, self._paused = 0, False
        os.set_blocking(self._fd, False)
        asyncio.get_running_loop().add_reader(self._fd, self._on_bytes)

    async def read(self) -> bytes:
        """The bytes that came since the last time. Raises LinkError when the port has vanished."""
        while not self._got:
            if self._lost is not None:
                raise self._lost
            if self._line is None:
                raise LinkError(f"{self._port} is not open")
            self._ready.clear()
            await self._ready.wait()
        data = b"".join(self._got)
        self._got.clear()
        self._unread = 0
        if self._paused:
            self._paused = False
            asyncio.get_running_loop().add_reader(self._fd, self._on_bytes)
        return data

    def write(self, data: bytes) -> None:
        """Send, or keep a little while until the port takes it."""
        if self._line is None or self._lost is not None or not data:
            return
        waiting = bool(self._unsent)
        if len(self._unsent) + len(data) <= UNSENT_MOST:
            self._unsent += data
        if not waiting:
            self._send()

    def close(self) -> None:
        """Let go of the port."""
        if self._line is None:
            return
        self._unhook()
        self._line.close()
        self._line, self._fd = None, -1
        self._ready.set()

    def _take(self) -> serial.Serial:
        return serial.Serial(self._port, self._baud, timeout=0, write_timeout=0, exclusive=True)

    def _on_bytes(self) -> None:
        try:
            data = os.read(self._fd, CHUNK)
        except BlockingIOError:
            return
        except OSError as exc:
            self._vanished(exc)
            return
        if not data:
            self._vanished(None)
            return
        self._got.append(data)
        self._unread += len(data)
        self._ready.set()
        if self._unread > UNREAD_MOST:
            self._paused = True
            asyncio.get_running_loop().remove_reader(self._fd)

    def _send(self) -> None:
        loop = asyncio.get_running_loop()
        try:
            sent = os.write(self._fd, self._unsent)
        except BlockingIOError:
            sent = 0
        except OSError as exc:
            self._vanished(exc)
            return
        self._unsent = self._unsent[sent:]
        if self._unsent:
            loop.add_writer(self._fd, self._send)
        else:
            loop.remove_writer(self._fd)

    def _vanished(self, exc: OSError | None) -> None:
        self._lost = self._fault("is gone", exc)
        self._unhook()
        self._ready.set()

    def _unhook(self) -> None:
        loop = asyncio.get_running_loop()
        loop.remove_reader(self._fd)
        loop.remove_writer(self._fd)

    def _fault(self, what: str, exc: Exception | None) -> LinkError:
        number = getattr(exc, "errno", None)
        hint = _HINTS.get(number, _ANY_HINT) if number is not None else _ANY_HINT
        reason = os.strerror(number) if number else str(exc or "the other end closed it")
        return LinkError(f"port {self._port} {what}: {reason}", hint)
