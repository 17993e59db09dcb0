"""The stylesheet and the script, read once; each address carries a mark of its content."""

from __future__ import annotations

import hashlib
import mimetypes
from functools import cache
from importlib.resources import files

import msgspec


class Asset(msgspec.Struct, frozen=True, kw_only=True):
    """A file as it is sent: content, media type, and the mark that changes with the content."""

    body: bytes
    kind: str
    mark: str


@cache
def assets() -> dict[str, Asset]:
    """All files of the folder `static` by name."""
    folder = files("dashboards").joinpath("static")
    return {entry.name: _asset(entry.name, entry.read_bytes()) for entry in folder.iterdir()}


def _asset(name: str, body: bytes) -> Asset:
    kind = mimetypes.guess_type(name)[0] or "application/octet-stream"
    if kind.startswith("text/") or kind.endswith("javascript"):
        kind += "; charset=utf-8"
    return Asset(body=body, kind=kind, mark=hashlib.sha256(body).hexdigest()[:12])


def asset_address(name: str) -> str:
    """The address of a file; it changes when the file does, so browsers may keep it for a year."""
    return f"/static/{name}?v={assets()[name].mark}"
