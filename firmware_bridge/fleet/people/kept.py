"""What is kept of a password: a key, or an invitation to choose one; never either as it is.

An invitation is a code of 192 random bits that works once and for some days; its SHA-256 is kept.
"""

from __future__ import annotations

import hashlib
import hmac
import secrets

import msgspec

from analytics.samples import DAY_MS

INVITED_FOR_MS = 7 * DAY_MS


class Kept(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True):
    """`key` is the password's key as JSON, made and read by whoever checks passwords; `digest` that
    of an invitation, good until `until_ms`. Both may be there: an old password holds until the new
    one is chosen."""

    key: str = ""
    digest: str = ""
    until_ms: int = 0

    def text(self) -> str:
        """As it stands in a person's row."""
        return msgspec.json.encode(self).decode()


def kept(text: str) -> Kept:
    """From a person's row; nothing where there is nothing."""
    return msgspec.json.decode(text, type=Kept) if text else Kept()


def new_code() -> str:
    """A code nobody can guess."""
    return secrets.token_urlsafe(24)


def invited(before: Kept, code: str, now_ms: int) -> Kept:
    """With an invitation in place of any earlier one."""
    until_ms = now_ms + INVITED_FOR_MS
    return msgspec.structs.replace(before, digest=_digest(code), until_ms=until_ms)


def opens(found: Kept, code: str, now_ms: int) -> bool:
    """Whether this code may choose a password now."""
    right = hmac.compare_digest(found.digest.encode(), _digest(code).encode())
    return bool(found.digest) and right and now_ms < found.until_ms


def _digest(code: str) -> str:
    return hashlib.sha256(code.encode("utf-8", "replace")).hexdigest()
