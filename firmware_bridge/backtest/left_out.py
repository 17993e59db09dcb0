"""A recording that could not be scored, and why."""

from __future__ import annotations

import msgspec


class LeftOut(msgspec.Struct, frozen=True, kw_only=True):
    """The folder's name, and in a few words what is missing or broken."""

    name: str
    why: str
