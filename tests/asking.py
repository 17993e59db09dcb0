"""Asks an ASGI application, one request after the other, without a socket."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from typing import Any, Self

import httpx
from starlette.types import ASGIApp


class Asking:
    """Use it as `with Asking(app) as client`; faults of the application come out."""

    def __init__(
        self,
        app: ASGIApp,
        *,
        base_url: str = "http://127.0.0.1",
        peer: str = "127.0.0.1",
        headers: dict[str, str] | None = None,
    ) -> None:
        self._runner = asyncio.Runner()
        transport = httpx.ASGITransport(app=app, client=(peer, 1))
        self._client = httpx.AsyncClient(transport=transport, base_url=base_url, headers=headers)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self._runner.run(self._client.aclose())
        self._runner.close()

    def request(self, method: str, path: str, **more: Any) -> httpx.Response:
        """One request and its answer."""
        return self._runner.run(self._client.request(method, path, **more))

    def __getattr__(self, name: str) -> Callable[..., httpx.Response]:
        """`get`, `post` and so on."""
        if name not in ("get", "post", "put", "patch", "head"):
            raise AttributeError(name)
        return lambda path, **more: self.request(name.upper(), path, **more)
