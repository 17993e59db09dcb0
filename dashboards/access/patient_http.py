"""HTTP for clients that take their time: no connection is held by a request that never ends."""

from __future__ import annotations

import asyncio

import h11
from uvicorn.protocols.http.h11_impl import H11Protocol

from dashboards.access.patience import is_loopback

HEAD_WITHIN_S = 10.0
MOST_OF_ONE = 48
"""Connections of one address on the network; a browser takes six, and one for its live figures."""


class PatientHttp(H11Protocol):
    """A connection whose request has to begin and its head to end in time."""

    trusted: frozenset[str] = frozenset()
    """Addresses that speak for many: the proxies of the site file."""

    _head_timer: asyncio.TimerHandle | None = None

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Take a connection, unless its address has too many."""
        super().connection_made(transport)
        address = self.client[0] if self.client else ""
        spared = not address or is_loopback(address) or address in self.trusted
        if not spared and self._others(address) > MOST_OF_ONE:
            transport.abort()
            return
        self._await_head()

    def data_received(self, data: bytes) -> None:
        """Take in what came; a head that is not whole yet has its time."""
        super().data_received(data)
        if self.conn.their_state is h11.IDLE and not self.transport.is_closing():
            self._await_head()
        else:
            self._head_came()

    def connection_lost(self, exc: Exception | None) -> None:
        """The connection is gone."""
        self._head_came()
        super().connection_lost(exc)

    def _others(self, address: str) -> int:
        found = (getattr(connection, "client", None) for connection in self.connections)
        return sum(client is not None and client[0] == address for client in found)

    def _await_head(self) -> None:
        if self._head_timer is None:
            self._head_timer = self.loop.call_later(HEAD_WITHIN_S, self._too_slow)

    def _head_came(self) -> None:
        if self._head_timer is not None:
            self._head_timer.cancel()
            self._head_timer = None

    def _too_slow(self) -> None:
        self._head_timer = None
        if not self.transport.is_closing():
            self.transport.abort()
