"""A copy of the record while it is in use, and a copy put back in its place.

    backup:  one state of the file, page by page -> DEST.part -> looked over -> DEST
    restore: backup looked over -> copied -> the file there set aside -> the copy in its place

A restored file knows less than was sent. Its numbers go on above the highest that can have been
given, so receivers that know rows by site and number never see one twice.
"""

from __future__ import annotations

import os
import shutil
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import msgspec

from analytics.errors import LastLitreError, StoreDamaged, StoreError
from firmware_bridge.store.faults import in_our_words
from firmware_bridge.store.lock import WriterLock
from firmware_bridge.store.numbers import read_promised
from firmware_bridge.store.opening import number_above, put_in_place
from firmware_bridge.store.reader import open_to_read
from firmware_bridge.store.rescue import set_aside
from firmware_bridge.store.resuming import highest_number
from firmware_bridge.store.room import ballast_beside

PAGES_A_STEP = 256
Progress = Callable[[float], None]
"""Called with the share that is done, 0 to 1."""


class Copied(msgspec.Struct, frozen=True, kw_only=True):
    """What a backup holds: where it is, whose, its size, its highest number."""

    path: Path
    site_id: str
    size_bytes: int
    newest_seq: int


class Restored(msgspec.Struct, frozen=True, kw_only=True):
    """What a restore did: the file that was there (None: there was none), where numbers go on."""

    set_aside: Path | None
    newest_seq: int


def back_up(path: Path, to: Path, progress: Progress, *, overwrite: bool = False) -> Copied:
    """Copy the record at `path` to `to`, also while a daemon writes it.

    The copy is one state of the file, looked over before it gets its name. Raises StoreError where
    it cannot be made, StoreDamaged where the record or the copy is not sound.
    """
    if to.exists() and not overwrite:
        raise StoreError(f"{to} is there already.", "Give --overwrite, or another name.")
    part = to.with_name(to.name + ".part")
    try:
        os.close(os.open(part, os.O_RDWR | os.O_CREAT | os.O_TRUNC, 0o600))
        try:
            with in_our_words(path), closing(open_to_read(path)) as source:
                _copy(source, part, progress)
            copied = look_over(part)
            _sync(part)
            put_in_place(part, to)
        finally:
            part.unlink(missing_ok=True)
    except OSError as exc:
        raise StoreError(
            f"{to}: {exc.strerror}", "Choose a place that this user may write to."
        ) from exc
    return msgspec.structs.replace(copied, path=to)


def restore(path: Path, backup: Path, site_id: str, now_ms: int) -> Restored:
    """Put a backup in the place of the record at `path`; what is there is set aside.

    Raises StoreBusy while a daemon runs, StoreDamaged for a backup that is not sound, StoreError
    for one of another site or where the disk does not let it. Until the last step, the record is
    as it was.
    """
    found = look_over(backup)
    if found.site_id != site_id:
        raise StoreError(
            f"{backup}: it is of the site {found.site_id!r}, not of {site_id!r}",
            "Give the site file that belongs to it.",
        )
    lock = WriterLock.take(path)
    try:
        fresh = path.with_name(path.name + ".restore")
        shutil.copyfile(backup, fresh)
        fresh.chmod(0o600)
        newest = _number_on(fresh, path)
        _sync(fresh)
        ballast_beside(path).unlink(missing_ok=True)
        aside = set_aside(path, now_ms, "replaced") if path.exists() else None
        put_in_place(fresh, path)
    except OSError as exc:
        raise StoreError(f"{path}: {exc.strerror}", "Look at the disk: is there room?") from exc
    finally:
        lock.release()
    return Restored(set_aside=aside, newest_seq=newest)


def look_over(path: Path) -> Copied:
    """Check every page and index of a copy; raises StoreDamaged where one is not sound."""
    if not path.is_file():
        raise StoreError(f"{path}: there is no such file.", "Give the path of a backup.")
    with in_our_words(path), closing(open_to_read(path)) as copy:
        found = [word for (word,) in copy.execute("PRAGMA integrity_check(3)")]
        if found != ["ok"]:
            raise StoreDamaged(f"{path}: not sound: {'; '.join(found)}", "Take another backup.")
        owner = copy.execute("SELECT site_id, newest_seq FROM site").fetchone()
        if owner is None:
            raise StoreDamaged(f"{path}: it is nobody's record", "Take another backup.")
    return Copied(
        path=path, site_id=owner[0], size_bytes=path.stat().st_size, newest_seq=int(owner[1])
    )


def _copy(source: sqlite3.Connection, part: Path, progress: Progress) -> None:
    """Within one transaction, so that what is written meanwhile does not begin the copy anew."""

    def step(_status: int, left: int, total: int) -> None:
        progress(1.0 - left / total if total else 1.0)

    with closing(sqlite3.connect(part, isolation_level=None)) as target:
        source.execute("BEGIN")
        source.execute("SELECT count(*) FROM sqlite_schema").fetchone()
        source.backup(target, pages=PAGES_A_STEP, progress=step)
        source.execute("ROLLBACK")
        target.execute("PRAGMA journal_mode = DELETE").fetchone()


def _number_on(fresh: Path, path: Path) -> int:
    """Raise the restored file's newest number above all that may have been given since."""
    with in_our_words(fresh), closing(sqlite3.connect(fresh, isolation_level=None)) as connection:
        (known,) = connection.execute("SELECT newest_seq FROM site").fetchone()
        newest = number_above(max(int(known), _given_since(path)), read_promised(path))
        connection.execute("UPDATE site SET newest_seq = ?", (newest,))
        connection.execute("PRAGMA journal_mode = DELETE").fetchone()
    return newest


def _given_since(path: Path) -> int:
    """The highest number in the file that is there, as far as it can be read."""
    if not path.exists():
        return 0
    try:
        with in_our_words(path), closing(open_to_read(path)) as connection:
            (newest,) = connection.execute("SELECT max(newest_seq) FROM site").fetchone()
            return max(int(newest or 0), highest_number(connection))
    except LastLitreError:
        return 0  # the promise beside it tells then


def _sync(path: Path) -> None:
    with path.open("rb") as file:
        os.fsync(file.fileno())
