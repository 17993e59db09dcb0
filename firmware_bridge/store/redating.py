"""Rows from before the clock was right get their instant: uptime plus what the boot turned out."""

from __future__ import annotations

import sqlite3

import msgspec
import numpy as np

from analytics.samples import ROW_COLUMNS, Flag, Rows
from firmware_bridge.store.blocks import Block, join_blocks
from firmware_bridge.store.ledger import HOUR, PART, Ledger
from firmware_bridge.store.readings import open_up, put, unpacked, write_block


class Redated(msgspec.Struct, frozen=True, kw_only=True):
    """How many rows were dated, and the earliest instant they got."""

    rows: int = 0
    first_ms: int | None = None


def redate(
    connection: sqlite3.Connection,
    ledger: Ledger,
    line_and_boot: tuple[str, int],
    offset_ms: int,
    sure: bool,
) -> Redated:
    """Move the boot's clock-unsure rows to uptime + `offset_ms`.

    They keep their numbers and lose the flag CLOCK_UNSURE; without `sure` they get DATE_GUESSED
    for it. A boot that is not known has no rows to date.
    """
    line_id = line_and_boot[0]
    boot = ledger.boots.get(line_and_boot)
    if boot is None:
        return Redated()
    connection.execute(
        "UPDATE boots SET offset_ms = ? WHERE boot_no = ?", (offset_ms, boot.boot_no)
    )
    moved = join_blocks(_taken_out(connection, ledger, line_id, boot.boot_no))
    if not len(moved):
        return Redated()
    _find_newest_hour(connection, ledger, line_id)
    dated = _dated(moved, offset_ms, sure)
    dated = join_blocks([dated])
    put(connection, ledger, line_id, dated)
    return Redated(rows=len(dated), first_ms=int(dated.rows.at_ms[0]))


def _taken_out(
    connection: sqlite3.Connection, ledger: Ledger, line_id: str, boot_no: int
) -> list[Block]:
    """The unsure rows of the boot, out of the blocks they were in."""
    found = connection.execute(
        "SELECT block_no, hour, level, meters, numbers FROM blocks "
        "WHERE line_id = ? AND unsure > 0",
        (line_id,),
    ).fetchall()
    taken = []
    for block_no, hour, level, meters, numbers in found:
        block = unpacked(meters, numbers)
        unsure = (block.rows.flags & Flag.CLOCK_UNSURE) != 0
        theirs = (block.numbers.boot_no == boot_no) & unsure
        if not theirs.any():
            continue
        taken.append(block.taken(np.flatnonzero(theirs)))
        if level == HOUR:
            open_up(connection, ledger, (line_id, hour))
        connection.execute("DELETE FROM blocks WHERE block_no = ?", (block_no,))
        rest = block.taken(np.flatnonzero(~theirs))
        if len(rest):
            write_block(connection, (line_id, hour), min(level, PART), rest)
    return taken


def _find_newest_hour(connection: sqlite3.Connection, ledger: Ledger, line_id: str) -> None:
    """The newest hour may have been one of a wrong clock."""
    (newest,) = connection.execute(
        "SELECT max(hour) FROM blocks WHERE line_id = ?", (line_id,)
    ).fetchone()
    if newest is None:
        ledger.newest_hour.pop(line_id, None)
    else:
        ledger.newest_hour[line_id] = newest


def _dated(block: Block, offset_ms: int, sure: bool) -> Block:
    columns = {name: getattr(block.rows, name) for name in ROW_COLUMNS}
    columns["at_ms"] = block.numbers.uptime_ms + offset_ms
    columns["flags"] = columns["flags"] & ~np.int64(Flag.CLOCK_UNSURE)
    if not sure:
        columns["flags"] = columns["flags"] | np.int64(Flag.DATE_GUESSED)
    return Block(rows=Rows(**columns), numbers=block.numbers)
