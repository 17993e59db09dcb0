"""The random id of a site's record: who numbers the rows, whatever machine it is on.

It stands in the record, so that a backup put in place on another machine goes on as the same, and
in a file beside it, so that a record that had to be rescued or begun anew does too: its numbers go
on as well. A second box with a record of its own under the same name has another id.
"""

from __future__ import annotations

import os
import re
import secrets
import sqlite3
from pathlib import Path

FORM = re.compile(r"[0-9a-f]{16}")


def settle_box(connection: sqlite3.Connection, path: Path) -> None:
    """See that the record has its id, and the file beside it too; raises sqlite3.Error.

    What cannot be written beside the record is done without: the record has it.
    """
    (box,) = connection.execute("SELECT box FROM site").fetchone()
    beside = path.with_name(path.name + ".box")
    if not FORM.fullmatch(box):
        box = _read(beside) or secrets.token_hex(8)
        connection.execute("UPDATE site SET box = ?", (box,))
    if _read(beside) != box:
        _write(beside, box)


def _read(beside: Path) -> str:
    try:
        found = beside.read_text(encoding="ascii").strip()
    except (OSError, ValueError):
        return ""
    return found if FORM.fullmatch(found) else ""


def _write(beside: Path, box: str) -> None:
    fresh = beside.with_name(beside.name + ".new")
    try:
        descriptor = os.open(fresh, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
        with os.fdopen(descriptor, "w", encoding="ascii") as file:
            file.write(box + "\n")
            file.flush()
            os.fsync(file.fileno())
        os.replace(fresh, beside)
    except OSError:
        return
