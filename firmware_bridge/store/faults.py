"""What SQLite and the file system say, in our own error tree."""

from __future__ import annotations

import errno
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from analytics.errors import StoreBusy, StoreDamaged, StoreError, StoreFailing, StoreFull

LITTLE_BYTES = 256 << 10
"""With less than this on the disk, an error of the disk is taken for want of room."""
FULL_HINT = "Free some room on the disk, or raise the limit in the site file; rows wait meanwhile."
DAMAGED_HINT = (
    "The daemon sets it aside at its next start and saves what can be read; a backup can be put in "
    "its place with lastlitre restore."
)
BUSY_HINT = "Stop the other program that has the file open, then start again."
OTHER_HINT = "Check that the folder exists, may be written to and that the disk is sound."


@contextmanager
def in_our_words(path: Path) -> Iterator[None]:
    """Turn sqlite3's errors inside the block into StoreError and its kinds, naming the file."""
    try:
        yield
    except sqlite3.Error as exc:
        raise translated(exc, path) from exc


def translated(exc: sqlite3.Error, path: Path) -> StoreError:
    """The error of our tree that stands for an error of SQLite."""
    name = getattr(exc, "sqlite_errorname", "") or ""
    if name == "SQLITE_FULL":
        return StoreFull(f"{path}: no room left to write ({exc})", FULL_HINT)
    torn = str(exc).startswith(("Could not decode", "no such table", "no such column"))
    if torn or name.startswith(("SQLITE_CORRUPT", "SQLITE_NOTADB")):
        return StoreDamaged(f"{path}: not a readable database ({exc})", DAMAGED_HINT)
    if name.startswith(("SQLITE_BUSY", "SQLITE_LOCKED")):
        return StoreBusy(f"{path}: another program holds the file ({exc})", BUSY_HINT)
    if name.startswith(("SQLITE_IOERR", "SQLITE_READONLY", "SQLITE_CANTOPEN", "SQLITE_NOLFS")):
        return StoreFailing(f"{path}: {exc}", OTHER_HINT)
    return StoreError(f"{path}: {exc}", OTHER_HINT)


def for_want_of_room(exc: Exception, disk_free: int) -> bool:
    """Whether this fault means that there was no room: some calls fail as a plain disk error."""
    name = getattr(exc, "sqlite_errorname", "") or ""
    if isinstance(exc, OSError):
        return exc.errno in (errno.ENOSPC, errno.EDQUOT)
    return name == "SQLITE_FULL" or (name.startswith("SQLITE_IOERR") and disk_free < LITTLE_BYTES)
