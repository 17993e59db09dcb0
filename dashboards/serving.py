"""Listens on an address and serves the pages until told to stop; open pages do not hold it up."""

from __future__ import annotations

import asyncio
import socket
from collections.abc import Iterator
from contextlib import contextmanager

import uvicorn
from starlette.applications import Starlette

from analytics.errors import LinkError

GRACE_S = 1


class PageServer(uvicorn.Server):
    """A server that ends its event streams first when it stops."""

    def __init__(self, app: Starlette, *, signals: bool) -> None:
        super().__init__(
            uvicorn.Config(
                app,
                log_level="warning",
                access_log=False,
                lifespan="off",
                server_header=False,
                timeout_graceful_shutdown=GRACE_S,
            )
        )
        self._app = app
        self._signals = signals

    @contextmanager
    def capture_signals(self) -> Iterator[None]:
        """Stop on SIGINT and SIGTERM, unless whoever runs this listens for them."""
        if not self._signals:
            yield
            return
        with super().capture_signals():
            yield

    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
        """End the streams, then the connections."""
        self._app.state.stream.close()
        await super().shutdown(sockets)

    def stop(self) -> None:
        """Ask the server to stop; `serve` then returns within about a second."""
        self.should_exit = True


def listen(host: str, port: int) -> socket.socket:
    """A listening socket; port 0 takes any that is free.

    Raises LinkError that says who else may have the port.
    """
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    # The protocol is named, or asyncio leaves small answers waiting 40 ms (no TCP_NODELAY).
    listener = socket.socket(family, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listener.bind((host, port))
    except OSError as error:
        listener.close()
        raise LinkError(
            f"The pages cannot listen on {host}, port {port}: {error.strerror}.",
            "Choose another port, or stop the program that has this one.",
        ) from error
    listener.listen(128)
    return listener


def address_of(listener: socket.socket) -> str:
    """The address to type into a browser."""
    host, port = listener.getsockname()[:2]
    return f"http://{f'[{host}]' if ':' in host else host}:{port}/now"


async def serve(
    app: Starlette, listener: socket.socket, *, stop: asyncio.Event | None = None
) -> None:
    """Serve until `stop` is set or this task is cancelled; without `stop`, until a signal."""
    server = PageServer(app, signals=stop is None)
    if stop is None:
        await server.serve(sockets=[listener])
        return
    running = asyncio.create_task(server.serve(sockets=[listener]))
    stopping = asyncio.create_task(stop.wait())
    try:
        await asyncio.wait((running, stopping), return_when=asyncio.FIRST_COMPLETED)
    finally:
        server.stop()
        stopping.cancel()
        await running
