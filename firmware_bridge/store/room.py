"""Room for the newest: a file of ballast to let go when the disk is full, pages held back.

The ballast lies beside the database. When the disk is full it is removed, which is room enough to
thin the oldest readings; the pages they held then take the newest. Once the disk has room again the
ballast is put back.
"""

from __future__ import annotations

import os
import shutil
import sqlite3
from contextlib import suppress
from pathlib import Path

from firmware_bridge.store.keeping import Keeping, StoreHealth

MOST_BALLAST = 2 << 20
HELD_BACK_PAGES = 64
"""Pages below the limit that only making room may use."""
SOFT_SHARE = 0.95
"""From this share of the limit on, the oldest readings give way."""


class Room:
    """The room of one database; belongs to its writer thread."""

    def __init__(self, database: Path, keeping: Keeping | None) -> None:
        self.path = database
        self.keeping = keeping
        self.full = False
        self._ballast = ballast_beside(database)
        self._ballast_bytes = min(MOST_BALLAST, (keeping.limit_bytes if keeping else 0) // 64)
        self._most_pages = 0

    def limit(self, connection: sqlite3.Connection) -> None:
        """Tell SQLite how large the file may grow; what is outside it is taken off."""
        if self.keeping is None:
            return
        size = connection.execute("PRAGMA page_size").fetchone()[0]
        beside = connection.execute("PRAGMA wal_autocheckpoint").fetchone()[0] * size
        for_pages = self.keeping.limit_bytes - self._ballast_bytes - beside
        self._most_pages = max(for_pages, self.keeping.limit_bytes // 2) // size
        self.hold_back(connection)

    def hold_back(self, connection: sqlite3.Connection) -> None:
        """Keep the last pages below the limit for making room."""
        connection.execute(f"PRAGMA max_page_count = {self._most_pages - HELD_BACK_PAGES}")

    def use_all(self, connection: sqlite3.Connection) -> None:
        """Let this connection use the pages held back."""
        connection.execute(f"PRAGMA max_page_count = {self._most_pages}")

    def put_ballast(self) -> bool:
        """Lay the ballast down where the disk has plenty of room; whether it lies there."""
        if self._ballast.exists():
            return True
        if not self._ballast_bytes or self.disk_free() < 3 * self._ballast_bytes:
            return False
        try:
            with open(
                self._ballast, "wb", opener=lambda path, how: os.open(path, how, 0o600)
            ) as file:
                file.write(os.urandom(self._ballast_bytes))  # no file system squeezes this
                file.flush()
                os.fsync(file.fileno())
        except OSError:
            self.drop_ballast()
            return False
        return True

    def drop_ballast(self) -> bool:
        """Give the ballast's room back to the disk; whether there was any."""
        with suppress(FileNotFoundError):
            self._ballast.unlink()
            return True
        return False

    def disk_free(self) -> int:
        """Bytes this program may still use of the disk; 0 where the disk does not answer."""
        try:
            return shutil.disk_usage(self.path.parent).free
        except OSError:
            return 0

    def crowded(self, connection: sqlite3.Connection) -> bool:
        """Whether the oldest should give way already."""
        used, size = self._used_pages(connection), connection.execute("PRAGMA page_count")
        return bool(self._most_pages) and (
            used > SOFT_SHARE * self._most_pages or size.fetchone()[0] > self._most_pages
        )

    def overgrown(self, connection: sqlite3.Connection) -> bool:
        """Whether the file itself is larger than it may be, its free pages included."""
        (size,) = connection.execute("PRAGMA page_count").fetchone()
        return bool(self._most_pages) and size > self._most_pages

    def health(self, connection: sqlite3.Connection) -> StoreHealth:
        """How it stands now."""
        (size,) = connection.execute("PRAGMA page_size").fetchone()
        return StoreHealth(
            used_bytes=self._used_pages(connection) * size,
            limit_bytes=self.keeping.limit_bytes if self.keeping else 0,
            disk_free_bytes=self.disk_free(),
            full=self.full,
        )

    def _used_pages(self, connection: sqlite3.Connection) -> int:
        (pages,) = connection.execute("PRAGMA page_count").fetchone()
        (free,) = connection.execute("PRAGMA freelist_count").fetchone()
        return int(pages - free)


def ballast_beside(database: Path) -> Path:
    """Where the ballast of a database lies."""
    return database.with_name(database.name + ".ballast")
