"""After a rescue: fresh numbers, frames that are owed again, a word in the record."""

from __future__ import annotations

import sqlite3
from importlib.metadata import version
from pathlib import Path

import msgspec
import numpy as np

from analytics.samples import Ints, RecordRescued
from firmware_bridge.store import counters, events
from firmware_bridge.store.frames import Frames, as_text
from firmware_bridge.store.ledger import HOUR, Ledger
from firmware_bridge.store.opening import number_above
from firmware_bridge.store.readings import unpacked
from firmware_bridge.store.rollups import keep_rollups
from firmware_bridge.store.writing import finish

WIRE = "%/wire"
"""The names under which drivers keep where they left off."""
NUMBERED = ("draws", "estimates", "events", "alarms")


class Rescued(msgspec.Struct, frozen=True, kw_only=True):
    """What came of a rescue: where the damaged file lies, what was saved a table, what was not.

    `unread` counts records that were found but not whole; `torn` are the tables of which a part
    could not be reached.
    """

    set_aside: Path
    saved: dict[str, int]
    unread: int = 0
    torn: tuple[str, ...] = ()


def go_on(
    target: sqlite3.Connection, rescued: Rescued, site_id: str, now_ms: int, promised: int | None
) -> None:
    """Make the new file fit to be gone on with."""
    target.execute("BEGIN IMMEDIATE")
    newest = number_above(highest_number(target), promised)
    target.execute(
        "INSERT INTO site (only_row, site_id, program, newest_seq) VALUES (1, ?, ?, ?)",
        (site_id, version("lastlitre"), newest),
    )
    _roll_up_again(target)
    _owe_again(target)
    ledger = Ledger(target)
    events.append(target, ledger, _event(rescued, now_ms))
    counters.add(target, {"rescues": 1, "records_unread": rescued.unread})
    finish(target, ledger)
    target.execute("COMMIT")


def highest_number(connection: sqlite3.Connection) -> int:
    """The highest number that anything in the file speaks of."""
    asked = [f"SELECT max(seq) FROM {table}" for table in NUMBERED]
    asked += ["SELECT max(last_seq) FROM blocks", "SELECT max(up_to_seq) FROM cursors"]
    return max(int(connection.execute(sql).fetchone()[0] or 0) for sql in asked)


def _roll_up_again(target: sqlite3.Connection) -> None:
    """Hours whose rows were saved and whose sums were not get their sums again."""
    missing = target.execute(
        "SELECT line_id, hour FROM blocks WHERE level = ? AND NOT EXISTS "
        "(SELECT 1 FROM minutely AS m WHERE m.line_id = blocks.line_id AND m.hour = blocks.hour) ",
        (HOUR,),
    ).fetchall()
    for line_id, hour in missing:
        (meters, numbers) = target.execute(
            "SELECT meters, numbers FROM blocks WHERE line_id = ? AND hour = ? AND level = ?",
            (line_id, hour, HOUR),
        ).fetchone()
        keep_rollups(target, line_id, hour, unpacked(meters, numbers).rows)


def _owe_again(target: sqlite3.Connection) -> None:
    """Frames of each line's last boot that are not in the file any more are owed again.

    The driver's own state is dropped with them, so that it asks the node for all it still holds;
    what is here already is known by its number.
    """
    for boot_no, done in target.execute(
        "SELECT max(boot_no), done_up_to FROM boots GROUP BY line_id"
    ).fetchall():
        here = _frames_here(target, boot_no)
        if not len(here):
            continue
        found = Frames(int(here[0]) - 1).after(here, 0)
        if found.done_up_to < done:
            target.execute(
                "UPDATE boots SET done_up_to = ?, ahead = ? WHERE boot_no = ?",
                (found.done_up_to, as_text(found), boot_no),
            )
            target.execute("DELETE FROM snapshots WHERE line_id LIKE ?", (WIRE,))


def _frames_here(target: sqlite3.Connection, boot_no: int) -> Ints:
    """Numbers of the boot's frames that are in the file, in order."""
    parts = [np.empty(0, dtype=np.int64)]
    for meters, numbers in target.execute("SELECT meters, numbers FROM blocks"):
        block = unpacked(meters, numbers)
        parts.append(block.numbers.frame_seq[block.numbers.boot_no == boot_no])
    here = np.unique(np.concatenate(parts))
    return here[here >= 0]


def _event(rescued: Rescued, now_ms: int) -> RecordRescued:
    return RecordRescued(
        at_ms=now_ms,
        known_at_ms=now_ms,
        set_aside=rescued.set_aside.name,
        saved=sum(rescued.saved.values()),
        unread=rescued.unread,
        torn=" ".join(rescued.torn),
    )
