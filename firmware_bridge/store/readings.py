"""Raw readings: rows of a commit go in as a tail, tails are joined, an hour ends as one block.

    commit -> TAIL -- 60 of them --> PART -- the hour is over --> HOUR (+ roll-ups)

Rows that come late for an hour are tails of it again; once no more come it is packed anew, sorted.
Everything here runs in the writer's transaction.
"""

from __future__ import annotations

import sqlite3
from itertools import pairwise

import numpy as np

from analytics.samples import HOUR_MS, Flag, Ints
from firmware_bridge.store.batch import Taken
from firmware_bridge.store.blocks import (
    Block,
    Numbers,
    in_order,
    join_blocks,
    pack_numbers,
    pack_rows,
    unpack_numbers,
    unpack_rows,
)
from firmware_bridge.store.boots import heard
from firmware_bridge.store.frames import Frames, as_text
from firmware_bridge.store.ledger import HOUR, PART, TAIL, Boot, Ledger
from firmware_bridge.store.rollups import drop_rollups, keep_rollups

TAILS_A_PART = 60
HOURS_A_COMMIT = 24
"""Hours packed in one commit at most, so that a backlog does not hold up the newest rows."""


def append(connection: sqlite3.Connection, ledger: Ledger, taken: Taken) -> int:
    """Store the rows that are not here yet; how many were here already (they are counted)."""
    _check(taken)
    if not len(taken.rows):
        return 0
    boot = boot_of(connection, ledger, taken)
    fresh = np.flatnonzero(boot.frames.fresh(taken.frame_seq))
    ledger.count("frames_given_up", boot.frames.given_up(taken.frames_from))
    _remember_frames(connection, boot, boot.frames.after(taken.frame_seq, taken.frames_from))
    doubled = len(taken.rows) - len(fresh)
    ledger.count("frames_doubled", doubled)
    unsure = np.flatnonzero(taken.rows.flags & Flag.CLOCK_UNSURE)
    if ledger.host is not None and len(unsure):
        last = int(unsure[-1])
        at_ms, uptime_ms = int(taken.rows.at_ms[last]), int(taken.uptime_ms[last])
        heard(connection, ledger.host, boot.boot_no, at_ms, uptime_ms)
    if len(fresh):
        block = _numbered(ledger, boot, taken, fresh)
        put(connection, ledger, taken.line_id, in_order(block))
    return doubled


def boot_of(connection: sqlite3.Connection, ledger: Ledger, taken: Taken) -> Boot:
    """The boot of these rows, begun if it is new."""
    key = (taken.line_id, taken.boot_id)
    if key not in ledger.boots:
        boot_no = connection.execute(
            "INSERT INTO boots (line_id, boot_id, first_ms, done_up_to, ahead) "
            "VALUES (?, ?, ?, -1, '[]')",
            (*key, int(taken.rows.at_ms[0])),
        ).lastrowid
        ledger.boots[key] = Boot(int(boot_no or 0), Frames())
    return ledger.boots[key]


def put(connection: sqlite3.Connection, ledger: Ledger, line_id: str, block: Block) -> None:
    """Add rows in order of time to their hours, then join what has become ready."""
    hours = block.rows.at_ms // HOUR_MS
    firsts = np.concatenate(([0], np.flatnonzero(np.diff(hours)) + 1, [len(hours)]))
    touched = {int(hours[first]) for first in firsts[:-1]}
    newest = max(max(touched), ledger.newest_hour.get(line_id, min(touched)))
    for first, stop in pairwise(firsts.tolist()):
        part = block.taken(np.arange(first, stop))
        _put_hour(connection, ledger, (line_id, int(hours[first])), part, newest)
    ledger.newest_hour[line_id] = newest
    pack_hours_over(connection, ledger, line_id, touched)


def pack_hours_over(
    connection: sqlite3.Connection, ledger: Ledger, line_id: str, touched: set[int]
) -> None:
    """Pack the open hours of the line that are over and that no row came for just now."""
    newest = ledger.newest_hour[line_id]
    over = [
        key
        for key in ledger.open_hours
        if key[0] == line_id and key[1] < newest and key[1] not in touched
    ]
    for key in sorted(over)[:HOURS_A_COMMIT]:
        _join(connection, key, up_to=HOUR)
        del ledger.open_hours[key]


def pack_hour(connection: sqlite3.Connection, key: tuple[str, int]) -> None:
    """Join all there is of an hour into its one block, with roll-ups."""
    _join(connection, key, up_to=HOUR)


def open_up(connection: sqlite3.Connection, ledger: Ledger, key: tuple[str, int]) -> None:
    """Make a packed hour an open one again: its rows are about to change."""
    drop_rollups(connection, *key)
    connection.execute(
        "UPDATE blocks SET level = ? WHERE line_id = ? AND hour = ? AND level = ?",
        (PART, *key, HOUR),
    )
    ledger.open_hours.setdefault(key, 0)


def write_block(
    connection: sqlite3.Connection, key: tuple[str, int], level: int, block: Block
) -> None:
    """One block of one line and hour, packed."""
    rows, numbers = block.rows, block.numbers
    connection.execute(
        "INSERT INTO blocks (line_id, hour, level, rows, unsure, first_seq, last_seq, meters, "
        "numbers) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
        (
            *key,
            level,
            len(rows),
            int(np.count_nonzero(rows.flags & Flag.CLOCK_UNSURE)),
            int(numbers.seq.min()),
            int(numbers.seq.max()),
            pack_rows(rows),
            pack_numbers(numbers, rows.at_ms),
        ),
    )


def _put_hour(
    connection: sqlite3.Connection,
    ledger: Ledger,
    key: tuple[str, int],
    part: Block,
    newest: int,
) -> None:
    unsure = (part.rows.flags & Flag.CLOCK_UNSURE).any()
    if key[1] < ledger.rows_from_hour.get(key[0], 0) and not unsure:
        ledger.count("rows_thinned", len(part))
        keep_rollups(connection, key[0], key[1], part.rows, add=True)
        return
    if key[1] < newest and key not in ledger.open_hours and not _is_packed(connection, key):
        write_block(connection, key, HOUR, part)
        keep_rollups(connection, key[0], key[1], part.rows)
        return
    write_block(connection, key, TAIL, part)
    tails = ledger.open_hours.get(key, 0) + 1
    if tails >= TAILS_A_PART:
        _join(connection, key, up_to=PART)
        tails = 0
    ledger.open_hours[key] = tails


def _is_packed(connection: sqlite3.Connection, key: tuple[str, int]) -> bool:
    found = connection.execute(
        "SELECT 1 FROM blocks WHERE line_id = ? AND hour = ? LIMIT 1", key
    ).fetchone()
    return found is not None


def _join(connection: sqlite3.Connection, key: tuple[str, int], up_to: int) -> None:
    """Join the blocks of the hour below PART into a part, or all there are into the hour."""
    highest = TAIL if up_to == PART else HOUR
    stored = connection.execute(
        "SELECT block_no, meters, numbers FROM blocks "
        "WHERE line_id = ? AND hour = ? AND level <= ?",
        (*key, highest),
    ).fetchall()
    block = join_blocks([unpacked(meters, numbers) for _, meters, numbers in stored])
    connection.executemany("DELETE FROM blocks WHERE block_no = ?", [(no,) for no, _, _ in stored])
    if len(block):
        write_block(connection, key, up_to, block)
    if up_to == HOUR:
        keep_rollups(connection, key[0], key[1], block.rows)


def unpacked(meters: bytes, numbers: bytes) -> Block:
    """The block of two stored bodies; raises StoreDamaged where they are not whole."""
    rows = unpack_rows(meters)
    return Block(rows=rows, numbers=unpack_numbers(numbers, rows.at_ms))


def _numbered(ledger: Ledger, boot: Boot, taken: Taken, fresh: Ints) -> Block:
    first = ledger.take(len(fresh))
    numbers = Numbers(
        seq=np.zeros(len(taken.rows), dtype=np.int64),
        boot_no=np.full(len(taken.rows), boot.boot_no, dtype=np.int64),
        uptime_ms=taken.uptime_ms,
        frame_seq=taken.frame_seq,
    )
    block = Block(rows=taken.rows, numbers=numbers).taken(fresh)
    seq = np.arange(first, first + len(fresh), dtype=np.int64)
    return Block(
        rows=block.rows,
        numbers=Numbers(
            seq=seq,
            boot_no=block.numbers.boot_no,
            uptime_ms=block.numbers.uptime_ms,
            frame_seq=block.numbers.frame_seq,
        ),
    )


def _remember_frames(connection: sqlite3.Connection, boot: Boot, frames: Frames) -> None:
    if frames == boot.frames:
        return
    boot.frames = frames
    connection.execute(
        "UPDATE boots SET done_up_to = ?, ahead = ? WHERE boot_no = ?",
        (frames.done_up_to, as_text(frames), boot.boot_no),
    )


def _check(taken: Taken) -> None:
    lengths = {len(taken.rows), len(taken.uptime_ms), len(taken.frame_seq)}
    if len(lengths) > 1:
        raise ValueError(
            f"rows, uptime_ms and frame_seq of line {taken.line_id!r} differ in length: "
            f"{len(taken.rows)}, {len(taken.uptime_ms)}, {len(taken.frame_seq)}"
        )
