"""Passwords: kept as scrypt keys, never as they are."""

from __future__ import annotations

import hashlib
import hmac
import secrets
import unicodedata

import msgspec

from analytics.errors import LastLitreError

WORK, BLOCK, LANES = 2**14, 8, 5
"""scrypt's N, r and p: 128 * N * r = 16 MiB, five times over (OWASP Password Storage, 2023)."""
ROOM = 64 * 1024 * 1024
SHORTEST, LONGEST = 10, 200
FEWEST_SIGNS = 5
"""Different signs a password has at least."""


class Key(msgspec.Struct, frozen=True, kw_only=True):
    """What is kept of a password: the scrypt key with the salt and work it was made with."""

    salt: bytes
    key: bytes
    work: int = WORK
    block: int = BLOCK
    lanes: int = LANES

    def __repr__(self) -> str:
        """Never shows itself."""
        return "Key(***)"

    @property
    def mark(self) -> str:
        """Changes with the password; says nothing of it."""
        return hashlib.sha256(b"mark" + self.key).hexdigest()[:16]


NOBODY = Key(salt=bytes(16), key=bytes(32))
"""Checked where a name is unknown, so that an unknown name takes as long as a wrong password."""


def key_of(password: str) -> Key:
    """The key of a new password, with a salt of its own."""
    salt = secrets.token_bytes(16)
    return Key(salt=salt, key=_scrypt(password, Key(salt=salt, key=b"")))


def fits(password: str, key: Key) -> bool:
    """Whether this is the password; takes as long either way."""
    return hmac.compare_digest(_scrypt(password, key), key.key)


def check_new(password: str, name: str) -> None:
    """Raises LastLitreError that says what a password has to be."""
    plain = _plain(password).casefold()
    if len(plain) < SHORTEST:
        raise LastLitreError(
            f"A password has at least {SHORTEST} characters.", "Three or four words do well."
        )
    if len(password) > LONGEST:
        raise LastLitreError(f"A password has at most {LONGEST} characters.", "Take a shorter one.")
    if len(set(plain)) < FEWEST_SIGNS:
        raise LastLitreError("This password is too simple.", "Three or four words do well.")
    if name.casefold() in plain or "lastlitre" in plain:
        raise LastLitreError("A password does not hold the name.", "Three or four words do well.")


def _scrypt(password: str, key: Key) -> bytes:
    return hashlib.scrypt(
        _plain(password[:LONGEST]).encode("utf-8", "surrogatepass"),
        salt=key.salt,
        n=key.work,
        r=key.block,
        p=key.lanes,
        maxmem=ROOM,
        dklen=32,
    )


def _plain(password: str) -> str:
    """One form for what looks alike on different keyboards (NFKC, as NIST SP 800-63B asks)."""
    return unicodedata.normalize("NFKC", password)
