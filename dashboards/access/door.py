"""Where the page listens: this machine alone, until somebody has a password."""

from __future__ import annotations

import socket

import msgspec
import structlog

from dashboards.access.access import Access, access_of
from dashboards.access.patience import is_loopback
from dashboards.serving import Keys, address_of, checked_keys, listen
from firmware_bridge.config import Site

LOOPBACK = "127.0.0.1"

log = structlog.get_logger(__name__)


class Opened(msgspec.Struct, frozen=True, kw_only=True):
    """A page about to be served; `remarks` are sentences for whoever started it."""

    access: Access
    listener: socket.socket
    keys: Keys | None
    address: str
    remarks: tuple[str, ...]


def opened(site: Site) -> Opened:
    """Listen as the site file says.

    With nobody's password set the page keeps to this machine, whatever host is stated; the logger
    works all the same. Raises LinkError where the port is taken or the certificate cannot be used,
    LastLitreError where the file of people cannot.
    """
    page, remarks = site.wiring.page, list[str]()
    to_network = not (is_loopback(page.host) or page.host == "localhost")
    access = access_of(site, open_to_network=to_network)
    host = page.host
    if to_network and not access.anybody:
        access, host = access_of(site, open_to_network=False), LOOPBACK
        remarks.append(
            f"Nobody has a password yet, so the page is not shown on {page.host}. "
            "Type: lastlitre people SITE.toml add NAME, then start again."
        )
        log.warning("access.loopback-only", stated=page.host)
    keys = checked_keys(page.tls_cert, page.tls_key) if page.tls_cert and page.tls_key else None
    if to_network and keys is None and page.logins_in_clear is not None:
        remarks.append("Passwords go over this network in clear, as the site file allows.")
        log.warning("access.in-clear", host=host)
    listener = listen(host, page.port)
    return Opened(
        access=access,
        listener=listener,
        keys=keys,
        address=address_of(listener, keys),
        remarks=tuple(remarks),
    )
