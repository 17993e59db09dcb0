"""A disk between SQLite and the real one: it writes down what is asked of it, and fails on order.

SQLite does all its writing through a table of functions (its VFS). The table in use is replaced by
one of the same functions, but for writing, syncing and cutting off, which come by here first. It
works on the very library that Python's `sqlite3` uses, so the store under test is the real one.
"""

from __future__ import annotations

import ctypes
import ctypes.util
import sqlite3
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import msgspec

IOERR_WRITE, IOERR_FSYNC, IOERR_TRUNCATE, FULL = 778, 1034, 1546, 13
FUNCTION = ctypes.CFUNCTYPE(ctypes.c_int)


class _Methods(ctypes.Structure):
    """sqlite3_io_methods, the first version's part by name, the rest as it is."""

    _fields_ = (
        ("version", ctypes.c_int),
        ("close", ctypes.c_void_p),
        ("read", ctypes.c_void_p),
        ("write", ctypes.c_void_p),
        ("truncate", ctypes.c_void_p),
        ("sync", ctypes.c_void_p),
        ("rest", ctypes.c_void_p * 13),
    )


class _File(ctypes.Structure):
    _fields_ = (("methods", ctypes.POINTER(_Methods)),)


OPEN = ctypes.CFUNCTYPE(
    ctypes.c_int,
    ctypes.c_void_p,
    ctypes.c_void_p,  # the name: SQLite goes on using this very text
    ctypes.POINTER(_File),
    ctypes.c_int,
    ctypes.c_void_p,
)
WRITE = ctypes.CFUNCTYPE(
    ctypes.c_int, ctypes.c_void_p, ctypes.c_void_p, ctypes.c_int, ctypes.c_int64
)
TRUNCATE = ctypes.CFUNCTYPE(ctypes.c_int, ctypes.c_void_p, ctypes.c_int64)
SYNC = ctypes.CFUNCTYPE(ctypes.c_int, ctypes.c_void_p, ctypes.c_int)


class _Vfs(ctypes.Structure):
    _fields_ = (
        ("version", ctypes.c_int),
        ("file_size", ctypes.c_int),
        ("longest_path", ctypes.c_int),
        ("next", ctypes.c_void_p),
        ("name", ctypes.c_char_p),
        ("data", ctypes.c_void_p),
        ("open", ctypes.c_void_p),
        ("rest", ctypes.c_void_p * 15),
    )


class Call(msgspec.Struct, frozen=True, kw_only=True):
    """One thing asked of the disk: `what` is write, cut or sync."""

    what: str
    file: str
    offset: int = 0
    data: bytes = b""


Verdict = Callable[[Call], tuple[int, int]]
"""An answer to a call: (SQLite's error code or 0, how many bytes of a write are done all the
same)."""


def obey(call: Call) -> tuple[int, int]:
    """A sound disk."""
    return 0, len(call.data)


class Disk:
    """What was asked since `calls` was emptied, and how it is to be answered."""

    def __init__(self) -> None:
        self.calls: list[Call] = []
        self.recording = False
        self.verdict: Verdict = obey
        self._names: dict[int, str] = {}
        self._methods: dict[int, tuple[_Methods, _Methods]] = {}
        self._kept: list[Any] = []
        self._lock = threading.RLock()
        self._library = ctypes.CDLL(_library())
        self._library.sqlite3_vfs_find.restype = ctypes.POINTER(_Vfs)
        self._base = self._library.sqlite3_vfs_find(None)
        self._vfs = _Vfs.from_buffer_copy(self._base.contents)
        self._vfs.name = b"lastlitre-faults"
        self._vfs.open = self._callback(OPEN, self._open)
        self._writes = self._callback(WRITE, self._write)
        self._cuts = self._callback(TRUNCATE, self._truncate)
        self._syncs = self._callback(SYNC, self._sync)

    def put_in(self) -> None:
        """SQLite uses this disk for every file it opens from now on."""
        self._library.sqlite3_vfs_register(ctypes.byref(self._vfs), 1)

    def take_out(self) -> None:
        """SQLite uses the real disk again."""
        self._library.sqlite3_vfs_register(self._base, 1)

    def mark(self) -> int:
        """How many calls there were."""
        with self._lock:
            return len(self.calls)

    def _callback(self, kind: Any, function: Any) -> Any:
        made = kind(function)
        self._kept.append(made)
        return ctypes.cast(made, ctypes.c_void_p).value

    def _open(self, _vfs: Any, name: int | None, file: Any, flags: int, out: Any) -> int:
        real = ctypes.cast(self._base.contents.open, OPEN)
        code = int(real(ctypes.addressof(self._base.contents), name, file, flags, out))
        if code == 0 and name:
            with self._lock:
                self._names[ctypes.addressof(file.contents)] = Path(
                    ctypes.string_at(name).decode()
                ).name
                file.contents.methods = ctypes.pointer(self._ours(file.contents.methods))
        return code

    def _ours(self, real: Any) -> _Methods:
        at = ctypes.addressof(real.contents)
        if at not in self._methods:
            ours = _Methods.from_buffer_copy(real.contents)
            ours.write, ours.truncate, ours.sync = self._writes, self._cuts, self._syncs
            self._methods[at] = (real.contents, ours)
        return self._methods[at][1]

    def _real(self, file: int) -> _Methods:
        """The real functions of an open file, found by ours."""
        ours = ctypes.cast(file, ctypes.POINTER(_File)).contents.methods
        at = ctypes.addressof(ours.contents)
        return next(real for real, mine in self._methods.values() if ctypes.addressof(mine) == at)

    def _write(self, file: int, data: int, size: int, offset: int) -> int:
        call = Call(
            what="write", file=self._names[file], offset=offset, data=ctypes.string_at(data, size)
        )
        code, done = self._asked(call)
        if done:
            real = ctypes.cast(self._real(file).write, WRITE)
            code = int(real(file, data, done, offset)) or code
        return code

    def _truncate(self, file: int, size: int) -> int:
        code, _ = self._asked(Call(what="cut", file=self._names[file], offset=size))
        return code or int(ctypes.cast(self._real(file).truncate, TRUNCATE)(file, size))

    def _sync(self, file: int, flags: int) -> int:
        code, _ = self._asked(Call(what="sync", file=self._names[file]))
        return code or int(ctypes.cast(self._real(file).sync, SYNC)(file, flags))

    def _asked(self, call: Call) -> tuple[int, int]:
        with self._lock:
            if self.recording:
                self.calls.append(call)
            return self.verdict(call)


def _library() -> str:
    """The SQLite library that Python's own module has loaded."""
    for line in Path("/proc/self/maps").read_text().splitlines():
        if "libsqlite3" in line:
            return line.split()[-1]
    raise OSError(
        f"sqlite3 {sqlite3.sqlite_version} has no library of its own in this Python, "
        "so no disk can be put between"
    )


DISK = Disk()


@contextmanager
def faulty_disk() -> Iterator[Disk]:
    """The disk in place; every file opened meanwhile must be closed before the end."""
    DISK.calls, DISK.verdict, DISK.recording = [], obey, False
    DISK.put_in()
    try:
        yield DISK
    finally:
        DISK.verdict, DISK.recording = obey, False
        DISK.take_out()
