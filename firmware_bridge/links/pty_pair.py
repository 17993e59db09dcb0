"""A serial cable inside the machine: a node's end, and a port that any program can open."""

from __future__ import annotations

import os
import tty
from pathlib import Path

CHUNK = 65_536
UNSENT_MOST = 1 << 16


class PtyPair:
    """A pseudo-terminal in raw mode. The node writes and reads here; the host opens `port`.

    Like a UART it holds nobody up: what the host does not read in time is lost at the node's end,
    but never cut inside a write. With `link`, `port` is that path, which stays the same when the
    cable is pulled and put in again.
    """

    def __init__(self, link: Path | None = None) -> None:
        self._link = link
        self._node_fd = -1
        self._keeper_fd = -1
        self._unsent = b""
        self.dropped = 0
        self.port = ""
        self.plug_in()

    def plug_in(self) -> None:
        """Make the port there is."""
        self._node_fd, self._keeper_fd = os.openpty()
        tty.setraw(self._keeper_fd)
        os.set_blocking(self._node_fd, False)
        self._unsent = b""
        self.port = os.ttyname(self._keeper_fd)
        if self._link is not None:
            self._link.unlink(missing_ok=True)
            self._link.symlink_to(self.port)
            self.port = str(self._link)

    def pull_out(self) -> None:
        """The port vanishes, as when a plug is pulled."""
        if self._link is not None:
            self._link.unlink(missing_ok=True)
        for fd in (self._node_fd, self._keeper_fd):
            if fd >= 0:
                os.close(fd)
        self._node_fd = self._keeper_fd = -1

    close = pull_out

    @property
    def node_fd(self) -> int:
        """The node's end as a file descriptor; -1 when pulled out."""
        return self._node_fd

    @property
    def plugged(self) -> bool:
        """Whether there is a port."""
        return self._node_fd >= 0

    def write(self, data: bytes) -> None:
        """The node sends; what does not fit is dropped whole."""
        if not self.plugged:
            self.dropped += bool(data)
            return
        if len(self._unsent) + len(data) <= UNSENT_MOST:
            self._unsent += data
        else:
            self.dropped += 1
        while self._unsent:
            try:
                sent = os.write(self._node_fd, self._unsent)
            except BlockingIOError:
                return
            self._unsent = self._unsent[sent:]

    def read(self) -> bytes:
        """What the host sent; empty when nothing."""
        if not self.plugged:
            return b""
        try:
            return os.read(self._node_fd, CHUNK)
        except BlockingIOError:
            return b""
