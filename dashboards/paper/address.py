"""The address of the pages as a pattern that a phone's camera reads; it holds no secret."""

from __future__ import annotations

import io
from ipaddress import ip_address
from urllib.parse import urlsplit

import segno

from dashboards.paper.sheet import Block, Drawing, Row, Words
from dashboards.phrases.reader import Reader
from firmware_bridge.config.box_tables import Page

PATTERN_MM = 28.0


def for_phones(address: str) -> str:
    """The address without path or user; empty where only this machine could reach it."""
    parts = urlsplit(address)
    host = parts.hostname or ""
    if not host or host == "localhost" or parts.scheme not in ("http", "https"):
        return ""
    try:
        number = ip_address(host)
    except ValueError:
        pass  # a name
    else:
        if number.is_loopback or number.is_unspecified:
            return ""
    shown = f"[{host}]" if ":" in host else host
    port = f":{parts.port}" if parts.port else ""
    return f"{parts.scheme}://{shown}{port}/"


def stated(page: Page) -> str:
    """The address that a site file states for other machines; empty where it states none."""
    way = "https" if page.tls_cert else "http"
    named = (*page.names, page.host)
    return next((found for n in named if (found := for_phones(f"{way}://{n}:{page.port}"))), "")


def pages_row(address: str, reader: Reader) -> Row:
    """The pattern, with the address in letters."""
    out = io.BytesIO()
    segno.make(address, error="m", micro=False).save(out, kind="svg", xmldecl=False, border=2)
    said = reader.say("paper.handover.pages-said", address=address)
    blocks: tuple[Block, ...] = (
        Drawing(svg=out.getvalue().decode(), said=said, width_mm=PATTERN_MM),
        Words(text=said, weight="small"),
    )
    return Row(title=reader.say("paper.handover.pages"), blocks=blocks)
