"""Listens on an address and serves the pages until told to stop; open pages do not hold it up."""

from __future__ import annotations

import asyncio
import os
import socket
import ssl
from collections.abc import Iterator
from contextlib import contextmanager

import msgspec
import uvicorn
from starlette.applications import Starlette

from analytics.errors import LinkError
from dashboards.access.patient_http import PatientHttp
from firmware_bridge.secrets import closed_to_others

GRACE_S = 1
MOST_CONNECTIONS = 240
LARGEST_HEAD = 16_384


class Keys(msgspec.Struct, frozen=True, kw_only=True):
    """Certificate and key (PEM files) for https."""

    cert: str
    key: str


class PageServer(uvicorn.Server):
    """A server that ends its event streams first when it stops."""

    def __init__(self, app: Starlette, *, signals: bool, keys: Keys | None = None) -> None:
        proxies = frozenset(app.state.access.rules.proxies)
        super().__init__(
            uvicorn.Config(
                app,
                http=type("SiteHttp", (PatientHttp,), {"trusted": proxies}),
                ws="none",
                proxy_headers=False,
                limit_concurrency=MOST_CONNECTIONS,
                h11_max_incomplete_event_size=LARGEST_HEAD,
                ssl_certfile=keys.cert if keys else None,
                ssl_keyfile=keys.key if keys else None,
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
        stream = getattr(self._app.state, "stream", None)  # the fleet has none
        if stream is not None:
            stream.close()
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


def address_of(listener: socket.socket, keys: Keys | None = None, path: str = "/now") -> str:
    """The address to type into a browser."""
    host, port = listener.getsockname()[:2]
    way = "https" if keys else "http"
    return f"{way}://{f'[{host}]' if ':' in host else host}:{port}{path}"


def checked_keys(cert: str, key: str) -> Keys:
    """Certificate and key, tried out.

    Raises LinkError where the key is open to others, or the two do not belong together.
    """
    try:
        if not closed_to_others(os.stat(key).st_mode):
            raise LinkError(f"tls_key: others can open {key}.", f"Close it: chmod 600 {key}")
        ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER).load_cert_chain(cert, key, password="")
    except OSError as error:  # ssl.SSLError is one
        raise LinkError(
            f"tls_cert and tls_key cannot be used: {error}.",
            "Name a certificate and its own key without a passphrase, both as PEM files.",
        ) from error
    return Keys(cert=cert, key=key)


async def serve(
    app: Starlette,
    listener: socket.socket,
    *,
    stop: asyncio.Event | None = None,
    keys: Keys | None = None,
) -> None:
    """Serve until `stop` is set or this task is cancelled; without `stop`, until a signal."""
    server = PageServer(app, signals=stop is None, keys=keys)
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
