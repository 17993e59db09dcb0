"""Where a fleet may post to: public addresses only, checked when an address is entered and again
at the moment of connecting, and connected to as checked.

A name may lead elsewhere from one look-up to the next (DNS rebinding), so the connection is made to
the very address that was found good; the certificate is still held against the name. A redirect is
an answer like any other: it is not followed.
"""

from __future__ import annotations

import http.client
import ipaddress
import socket
import ssl
from collections.abc import Callable
from typing import Any, TypeAlias
from urllib.parse import urlsplit

from analytics.errors import SinkError

Address: TypeAlias = ipaddress.IPv4Address | ipaddress.IPv6Address
Resolve: TypeAlias = Callable[[str, int], list[str]]

LONGEST_URL = 500
_TUNNELS = ("64:ff9b::/96", "64:ff9b:1::/48", "2002::/16", "2001::/32", "::/96")
TUNNELS = tuple(map(ipaddress.ip_network, _TUNNELS))
"""IPv6 networks that carry an IPv4 address inside (RFC 6052, 3056, 4380, 4291): where they lead is
not told by them alone."""


class NotPublic(ValueError):  # noqa: N818 - the address is refused, the program is well
    """Raised where an address, or one of those a name stands for, may not be posted to."""


def is_public(address: Address) -> bool:
    """Whether an address is one of the open Internet's: not private, loopback, link-local,
    multicast, reserved, shared, unspecified, nor one of those in another notation."""
    if isinstance(address, ipaddress.IPv6Address):
        if address.ipv4_mapped is not None:
            return is_public(address.ipv4_mapped)
        if address.is_site_local or any(address in net for net in TUNNELS):
            return False
    return address.is_global and not address.is_multicast and not address.is_reserved


def resolved(host: str, port: int) -> list[str]:
    """Every address that a name stands for; raises OSError."""
    found = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)
    return list(dict.fromkeys(str(entry[4][0]) for entry in found))


class Reach:
    """Checks addresses and posts to them. `may` says which are good, `resolve` looks names up."""

    def __init__(
        self,
        may: Callable[[Address], bool] = is_public,
        resolve: Resolve = resolved,
        context: ssl.SSLContext | None = None,
        timeout_s: float = 10.0,
    ) -> None:
        self._may = may
        self._resolve = resolve
        self._context = context or ssl.create_default_context()
        self._timeout_s = timeout_s

    def check(self, url: str) -> None:
        """Raises NotPublic where the URL is none, is not https, or leads to where nothing is
        posted; OSError where its name stands for nothing."""
        host, port, _ = _parts(url)
        self._good(host, port)

    def post(self, url: str, body: bytes, headers: dict[str, str]) -> None:
        """Post to the URL; raises SinkError, retryable where the same may work later."""
        try:
            host, port, target = _parts(url)
            address = self._good(host, port)
        except NotPublic as exc:
            raise SinkError(f"{url}: {exc}", "Enter another address.", retryable=False) from exc
        except OSError as exc:
            raise SinkError(f"{url}: {exc}", "Check the name.", retryable=True) from exc
        line = _Checked(host, port, address, self._context, self._timeout_s)
        try:
            line.request("POST", target, body, headers)
            answer = line.getresponse()
            answer.read(1024)
        except (OSError, http.client.HTTPException) as exc:
            trusted = not isinstance(exc, ssl.SSLCertVerificationError)
            raise SinkError(f"{url}: {exc}", "Check the far side.", retryable=trusted) from exc
        finally:
            line.close()
        if not 200 <= answer.status < 300:
            passes = answer.status >= 500 or answer.status in (408, 425, 429)
            raise SinkError(f"{url} answers {answer.status}", "See its own log.", retryable=passes)

    def _good(self, host: str, port: int) -> str:
        """The address to connect to; every one that the name stands for has to be good."""
        found = self._resolve(host, port)
        if not found:
            raise NotPublic("its name stands for no address")
        for text in found:
            if not self._may(ipaddress.ip_address(text.partition("%")[0])):
                raise NotPublic("it leads to an address that is not public")
        return found[0]


class _Checked(http.client.HTTPSConnection):
    """A connection to an address that was found good, under the name it was found by."""

    def __init__(
        self, host: str, port: int, address: str, context: ssl.SSLContext, timeout_s: float
    ) -> None:
        super().__init__(host, port, context=context, timeout=timeout_s)
        self._address = address
        self._name = host
        self._tls = context

    def connect(self) -> None:
        """Connect to the address, and to no other."""
        line: Any = socket.create_connection((self._address, self.port), self.timeout)
        try:
            self.sock = self._tls.wrap_socket(line, server_hostname=self._name)
        except BaseException:
            line.close()
            raise


def _parts(url: str) -> tuple[str, int, str]:
    """Host, port and what to ask for; raises NotPublic."""
    if len(url) > LONGEST_URL or not url.isprintable() or " " in url or not url.isascii():
        raise NotPublic("it is no web address")
    try:
        parts = urlsplit(url)
        port = parts.port or 443
    except ValueError as exc:
        raise NotPublic("it is no web address") from exc
    if parts.scheme != "https" or not parts.hostname:
        raise NotPublic("it does not begin with https://")
    if parts.username is not None or parts.password is not None:
        raise NotPublic("it has a user or a password in it")
    target = parts.path or "/"
    return parts.hostname, port, f"{target}?{parts.query}" if parts.query else target
