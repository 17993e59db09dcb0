"""The rules of a site's door: which names it answers to, whose word it takes, who is how near."""

from __future__ import annotations

import ipaddress
import socket
from collections.abc import Mapping, Sequence
from typing import Protocol

import msgspec

from dashboards.access.patience import is_loopback

LOOPBACK_NAMES = ("127.0.0.1", "localhost", "::1")


class Rules(msgspec.Struct, frozen=True, kw_only=True):
    """`names` are those it answers to besides loopback's; `by_address`: and to the address that a
    connection came in on. `proxies` are believed what they forward. `in_clear`: passwords may
    come over the network without encryption. `all_may_look`: looking needs no sign-in."""

    names: tuple[str, ...] = ()
    by_address: bool = False
    proxies: tuple[str, ...] = ()
    in_clear: bool = False
    all_may_look: bool = False


class Caller(msgspec.Struct, frozen=True, kw_only=True):
    """Who is on the line: the address (behind a trusted proxy the one it names), whether the way
    here is encrypted, whether it is this machine itself."""

    address: str
    secure: bool
    local: bool


class Doorway(Protocol):
    """What a file states of where pages are shown."""

    @property
    def names(self) -> tuple[str, ...]:
        """Names by which browsers reach this machine."""
        ...

    @property
    def proxies(self) -> tuple[str, ...]:
        """Proxies that are believed."""
        ...

    @property
    def logins_in_clear(self) -> str | None:
        """The sentence that allows passwords without https."""
        ...


def rules_of(page: Doorway, *, open_to_network: bool, all_may_look: bool = False) -> Rules:
    """The rules that a file states, for pages that listen to the network or do not."""
    own = (socket.gethostname(), f"{socket.gethostname()}.local") if open_to_network else ()
    return Rules(
        names=tuple(name.lower().rstrip(".") for name in (*page.names, *own)),
        by_address=open_to_network,
        proxies=page.proxies,
        in_clear=page.logins_in_clear is not None,
        all_may_look=all_may_look,
    )


def answers_to(rules: Rules, name: str, arrived_at: str) -> bool:
    """Whether a request by this name is for us.

    A page elsewhere can point a name of its own at this machine (DNS rebinding), so only names we
    know count. An address in numbers cannot be pointed anywhere: the one that the connection
    arrived at is ours.
    """
    if name in LOOPBACK_NAMES or name in rules.names:
        return True
    return rules.by_address and _number(name) is not None and _number(name) == _number(arrived_at)


def host_name(header: str) -> str | None:
    """The name in a Host header, without its port; None where it is no such header."""
    if not header or len(header) > 260 or not header.isascii():
        return None
    if header.startswith("["):
        name, closing, port = header[1:].partition("]")
        port = port.removeprefix(":") if closing else "x"
    else:
        name, _, port = header.partition(":")
    sound = name.replace("-", "").replace(".", "").replace(":", "").replace("_", "").isalnum()
    if not sound or (port and not port.isdecimal()):
        return None
    return name.lower().rstrip(".")


def caller_of(
    rules: Rules, peer: str, scheme: str, host: str, headers: Mapping[str, Sequence[str]]
) -> Caller:
    """Who calls. Only a proxy named in the site file is believed about others.

    The last address in X-Forwarded-For that is not such a proxy is the caller: what stands before
    it anybody may have written.
    """
    if _number(peer) in {_number(proxy) for proxy in rules.proxies}:
        said = [a.strip() for line in headers.get("x-forwarded-for", ()) for a in line.split(",")]
        proxies = {_number(proxy) for proxy in rules.proxies}
        others = [a for a in said if _number(a) not in proxies]
        way = [p.strip() for line in headers.get("x-forwarded-proto", ()) for p in line.split(",")]
        secure = bool(way) and way[-1].lower() == "https"
        return Caller(address=others[-1][:64] if others else peer, secure=secure, local=False)
    local = is_loopback(peer) and host in LOOPBACK_NAMES
    return Caller(address=peer, secure=scheme == "https", local=local)


def _number(address: str) -> ipaddress.IPv4Address | ipaddress.IPv6Address | None:
    try:
        found = ipaddress.ip_address(address.split("%")[0])
    except ValueError:
        return None
    mapped = found.ipv4_mapped if isinstance(found, ipaddress.IPv6Address) else None
    return mapped or found
