"""A node in a real MicroPython on one pseudo-terminal, a host's port on another, and between them
a cable that drops, doubles, turns and inserts bytes."""

from __future__ import annotations

import os
import random
import select
import subprocess
import threading
from pathlib import Path

from firmware_bridge.links.pty_pair import PtyPair
from tests.firmware_bridge.firmware.interpreter import ON_NODE, ROOT, micropython

HEAP = "190k"
"""About what a small board has."""


class NodeProcess:
    """The interpreter with the node's code; `folder` is its flash."""

    def __init__(self, folder: Path, steps: int) -> None:
        self.folder = folder
        self.steps = steps
        self.starts = 0
        (folder / "turned").write_bytes(b"%10d" % 0)
        self.pty = PtyPair()
        self.process = self._start()

    def _start(self) -> subprocess.Popen[bytes]:
        self.starts += 1
        script = str(ON_NODE / "live.py")
        words = [micropython(), "-X", f"heapsize={HEAP}", script, str(ROOT)]
        end = os.open(self.pty.port, os.O_RDWR | os.O_NOCTTY)
        try:
            return subprocess.Popen(
                [*words, str(self.folder), str(self.steps)],
                stdin=end,
                stdout=end,
                stderr=subprocess.PIPE,
            )
        finally:
            os.close(end)

    def kill(self) -> None:
        """The power is cut."""
        self.process.kill()
        self.process.wait(20)
        if self.process.stderr is not None:
            self.process.stderr.close()

    def restart(self) -> None:
        """The power is cut and comes back."""
        self.kill()
        self.process = self._start()

    def fault(self) -> str:
        """What ended it, if it has ended by itself."""
        if self.process.poll() is None or self.process.stderr is None:
            return ""
        return self.process.stderr.read().decode() or f"ended with {self.process.returncode}"

    @property
    def over(self) -> tuple[int, int] | None:
        """Boot and newest row, once every step was turned."""
        path = self.folder / "over"
        found = path.read_text().split() if path.exists() else []
        return (int(found[0]), int(found[1])) if len(found) == 2 else None

    def close(self) -> None:
        """End it."""
        self.kill()
        self.pty.close()


class BadCable:
    """Carries bytes both ways; `badness` is the chance a chunk of them. What the host's end was
    given is kept in `delivered`."""

    def __init__(self, node: NodeProcess, seed: int) -> None:
        self.node = node
        self.pty = PtyPair()
        self.badness = 0.0
        self.harmed = 0
        self.delivered: list[bytes] = []
        self._chance = random.Random(seed)
        self._stop = threading.Event()
        os.set_blocking(self.pty.node_fd, True)
        os.set_blocking(node.pty.node_fd, True)
        self._carrier = threading.Thread(target=self._carry)
        self._carrier.start()

    def close(self) -> None:
        """Take it out."""
        self._stop.set()
        self._carrier.join(20)
        self.pty.close()

    def _carry(self) -> None:
        here, there = self.pty.node_fd, self.node.pty.node_fd
        while not self._stop.is_set():
            for fd in select.select([here, there], [], [], 0.05)[0]:
                chunk = self._harm(os.read(fd, 65_536))
                if fd == there:
                    self.delivered.append(chunk)
                self._write(here if fd == there else there, chunk)

    def _write(self, fd: int, data: bytes) -> None:
        """All of it, unless the other end does not read for a second: then the rest is lost."""
        while data:
            if not select.select([], [fd], [], 1.0)[1]:
                return
            data = data[os.write(fd, data[:1024]) :]

    def _harm(self, data: bytes) -> bytes:
        if self._chance.random() >= self.badness:
            return data
        self.harmed += 1
        first = self._chance.randrange(len(data))
        last = min(first + self._chance.randrange(1, 200), len(data))
        harm = self._chance.randrange(5)
        if harm == 0:
            return data[:first] + data[last:]
        if harm == 1:
            return data[:last] + data[first:]
        if harm == 2:
            return data[:first]
        if harm == 3:
            return data[:first] + self._chance.randbytes(last - first) + data[first:]
        return data[:first] + bytes(b ^ 0x10 for b in data[first:last]) + data[last:]
