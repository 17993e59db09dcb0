"""A tap on a line to a server: a test sees every byte that passes, as anybody in between would."""

from __future__ import annotations

import socket
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress


class Tap:
    """A line to a server that writes down all bytes of both directions."""

    def __init__(self, onward: int) -> None:
        self.port = 0
        self.passed = bytearray()
        self._onward = onward

    def join(self, near: socket.socket) -> None:
        """Pass bytes between a new connection and the server until one side ends it."""
        with near, socket.create_connection(("127.0.0.1", self._onward)) as far:
            back = threading.Thread(target=self._pass, args=(far, near))
            back.start()
            self._pass(near, far)
            back.join()

    def _pass(self, one: socket.socket, other: socket.socket) -> None:
        with suppress(OSError):
            while found := one.recv(65_536):
                self.passed += found
                other.sendall(found)
        for line in (one, other):
            with suppress(OSError):
                line.shutdown(socket.SHUT_RDWR)


@contextmanager
def tap(onward: int) -> Iterator[Tap]:
    """A tap in front of the server at this port."""
    found = Tap(onward)
    threads: list[threading.Thread] = []
    with socket.create_server(("127.0.0.1", 0)) as door:
        found.port = door.getsockname()[1]

        def serve() -> None:
            with suppress(OSError):
                while True:
                    near, _ = door.accept()
                    threads.append(threading.Thread(target=found.join, args=(near,)))
                    threads[-1].start()

        server = threading.Thread(target=serve)
        server.start()
        try:
            yield found
        finally:
            door.shutdown(socket.SHUT_RDWR)
            server.join()
            for thread in threads:
                thread.join()
