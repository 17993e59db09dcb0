"""One writer a file: a lock of the operating system beside it, gone when its process is gone."""

from __future__ import annotations

import fcntl
import os
from pathlib import Path

from analytics.errors import StoreBusy, StoreError


class WriterLock:
    """Held from `take` to `release`; the lock file names the process that has it."""

    def __init__(self, descriptor: int) -> None:
        self._descriptor = descriptor

    @classmethod
    def take(cls, database: Path) -> WriterLock:
        """Take the lock of this database; raises StoreBusy when a process has it already."""
        path = database.with_name(database.name + ".lock")
        try:
            descriptor = os.open(path, os.O_RDWR | os.O_CREAT, 0o600)
        except OSError as exc:
            raise StoreError(
                f"{path}: {exc.strerror}",
                "Check that the folder exists and that this user may write to it.",
            ) from exc
        try:
            fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError as exc:
            owner = os.pread(descriptor, 20, 0).decode("ascii", "replace").strip() or "unknown"
            os.close(descriptor)
            raise StoreBusy(
                f"{database}: process {owner} already writes this site's file",
                f"Stop that one first (kill {owner}), or give this one another file.",
            ) from exc
        os.ftruncate(descriptor, 0)
        os.pwrite(descriptor, f"{os.getpid()}\n".encode("ascii"), 0)
        return cls(descriptor)

    @classmethod
    def is_held(cls, database: Path) -> bool:
        """Whether a process writes this database now; raises StoreError."""
        if not database.exists():
            return False
        try:
            cls.take(database).release()
        except StoreBusy:
            return True
        return False

    def release(self) -> None:
        """Let the file go; the lock file stays, empty, for the next one."""
        os.ftruncate(self._descriptor, 0)
        os.close(self._descriptor)
