"""Small files that only their owner can open: written whole or not at all."""

from __future__ import annotations

import os
import secrets
from pathlib import Path

from analytics.errors import LastLitreError
from firmware_bridge.secrets import closed_to_others

LARGEST = 1_000_000


def read_closed(path: Path) -> bytes | None:
    """What the file holds; None where there is none.

    Raises LastLitreError where it cannot be read, is far too large or is open to others.
    """
    try:
        with path.open("rb") as file:
            mode = os.fstat(file.fileno()).st_mode
            data = file.read(LARGEST + 1)
    except FileNotFoundError:
        return None
    except OSError as exc:
        raise LastLitreError(
            f"{path} cannot be read ({exc.strerror})", "The daemon's user must own it."
        ) from exc
    if not closed_to_others(mode):
        raise LastLitreError(f"others can open {path}", f"Close it: chmod 600 {path}")
    if len(data) > LARGEST:
        raise LastLitreError(f"{path} is too large to be ours", "Put a backup in its place.")
    return data


def write_closed(path: Path, data: bytes) -> None:
    """Replace the file in one step; nobody else can open it at any moment.

    Raises LastLitreError where the folder cannot be written to.
    """
    half = path.with_name(f".{path.name}.{secrets.token_hex(6)}")
    try:
        handle = os.open(half, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        try:
            with os.fdopen(handle, "wb") as file:
                file.write(data)
                file.flush()
                os.fsync(file.fileno())
            half.replace(path)
        finally:
            half.unlink(missing_ok=True)
    except OSError as exc:
        raise LastLitreError(
            f"{path} cannot be written ({exc.strerror})",
            "Check that the folder exists, may be written to and has room.",
        ) from exc
