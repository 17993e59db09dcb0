"""One step of the file's format. A step is never changed once it was released."""

from __future__ import annotations

import msgspec


class Migration(msgspec.Struct, frozen=True):
    """One step of the format: its number, what it brings, and its statements."""

    number: int
    what: str
    statements: tuple[str, ...]
