"""Cursors: where a page ended, as a text that means nothing to whoever holds it.

A cursor is only a place in a list. It opens nothing: what may be seen is asked anew with each page.
"""

from __future__ import annotations

import base64
import binascii
from collections.abc import Sequence
from typing import Any

import msgspec

LARGEST = 2**53


def cursor_of(key: Sequence[int | str] | None) -> str | None:
    """The text of a place; None where the list is over."""
    if key is None:
        return None
    packed = msgspec.json.encode(list(key))
    return base64.urlsafe_b64encode(packed).decode().rstrip("=")


def place_of(cursor: str, forms: Sequence[type]) -> tuple[Any, ...]:
    """The place in a list whose keys are of these types; raises ValueError where it is none."""
    try:
        packed = base64.b64decode(cursor + "=" * (-len(cursor) % 4), "-_", validate=True)
        found = msgspec.json.decode(packed, type=list[int | str])
    except (binascii.Error, msgspec.MsgspecError, UnicodeDecodeError, RecursionError) as exc:
        raise ValueError("not a cursor of this list") from exc
    if [type(part) for part in found] != list(forms):
        raise ValueError("not a cursor of this list")
    if any(abs(part) >= LARGEST if isinstance(part, int) else "\0" in part for part in found):
        raise ValueError("not a cursor of this list")
    return tuple(found)
