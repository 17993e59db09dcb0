"""A database whose first page is gone, made readable: our tables always begin on the same pages.

SQLite keeps the names of tables on page 1 and, with auto-vacuum, their root pages at the front of
the file, one after the other as they were made. A new file of this program has the same tables on
the same pages, so its list of tables serves: page 1 is put in front of a copy, the list's other
pages behind it.

    page 1: file header (100 bytes), b-tree header (12), places of cells (2 each) ... cells
    cell of an inner page: number of the page below (4 bytes, big-endian), key
"""

from __future__ import annotations

import os
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

from firmware_bridge.store.schema import migrate

PAGE = 4096
HEADER = 100
INNER = 5
"""Kind of a b-tree page that only points to others."""


def graft(damaged: Path, copy: Path, scratch: Path) -> None:
    """Write to `copy` what `damaged` holds, with the list of tables of a new file.

    Raises OSError where there is no room, StoreError or sqlite3.Error where no new file can be
    made.
    """
    front, behind = _list_of_tables(scratch)
    shutil.copyfile(damaged, copy)
    with copy.open("r+b") as file:
        pages = max(-(-os.fstat(file.fileno()).st_size // PAGE), 1)
        file.truncate(pages * PAGE)
        page_1 = _pointing_to(front, {old: pages + 1 + n for n, (old, _) in enumerate(behind)})
        file.seek(0)
        file.write(_with_size(page_1, pages + len(behind)))
        file.seek(pages * PAGE)
        for _, page in behind:
            file.write(page)


def _list_of_tables(scratch: Path) -> tuple[bytes, list[tuple[int, bytes]]]:
    """Page 1 of a new file, and the pages it points to with their numbers."""
    scratch.unlink(missing_ok=True)
    try:
        with closing(sqlite3.connect(scratch, isolation_level=None)) as connection:
            connection.execute(f"PRAGMA page_size = {PAGE}")
            connection.execute("PRAGMA auto_vacuum = INCREMENTAL")
            migrate(connection)
        data = scratch.read_bytes()
    finally:
        scratch.unlink(missing_ok=True)
    front = data[:PAGE]
    return front, [(n, data[(n - 1) * PAGE : n * PAGE]) for n in _below(front).values()]


def _below(page: bytes) -> dict[int, int]:
    """Where on page 1 a page number stands, and that number; none on a page that holds all."""
    if page[HEADER] != INNER:
        return {}
    cells = int.from_bytes(page[HEADER + 3 : HEADER + 5], "big")
    places = [HEADER + 8]
    for cell in range(cells):
        at = HEADER + 12 + 2 * cell
        places.append(int.from_bytes(page[at : at + 2], "big"))
    return {place: int.from_bytes(page[place : place + 4], "big") for place in places}


def _pointing_to(page: bytes, moved: dict[int, int]) -> bytes:
    """Page 1 with the pages below it at their new places."""
    changed = bytearray(page)
    for place, number in _below(page).items():
        changed[place : place + 4] = moved[number].to_bytes(4, "big")
    return bytes(changed)


def _with_size(page: bytes, pages: int) -> bytes:
    """Page 1 of a file of so many pages, without a list of free ones and without a log."""
    changed = bytearray(page)
    changed[18:20] = b"\x01\x01"
    changed[28:32] = pages.to_bytes(4, "big")
    changed[32:40] = bytes(8)
    changed[92:96] = changed[24:28]
    return bytes(changed)
