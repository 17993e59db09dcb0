"""Starts of this machine: what was heard while nobody knew the time, and its date once it is known.

While the clock is not believed, rows are stored as `base_ms` + this machine's time since its start:
after everything stored before, never in 1970. Once the clock is believed the whole start is moved
by one step. A start that ended before that can only be placed: at the latest it can have been.
"""

from __future__ import annotations

import sqlite3

import msgspec

from analytics.samples import HOUR_MS
from firmware_bridge.store.blocks import unpack_rows
from firmware_bridge.store.ledger import Ledger
from firmware_bridge.store.redating import redate

RESTART_MS = 30_000
"""A start is taken to have ended this long before the next one began."""


class Host(msgspec.Struct, frozen=True, kw_only=True):
    """This start of the machine. `wall_offset_ms` + time since the start is UTC; None: not known.

    `floor_ms` is the newest instant stored by earlier starts, 0 for none. `guessed`: nobody knew
    the time for so long that the base was taken for it.
    """

    host_no: int
    base_ms: int
    wall_offset_ms: int | None
    floor_ms: int
    guessed: bool = False


def begin(
    connection: sqlite3.Connection, ledger: Ledger, host: str, since_start_ms: int, least_ms: int
) -> Host:
    """This start of the machine, by its name; begun `since_start_ms` ago if it is new here.

    Nothing is dated before `least_ms`.
    """
    floor_ms = _newest_ms(connection)
    base_ms = max(floor_ms + HOUR_MS // 60, least_ms) - since_start_ms
    connection.execute(
        "INSERT OR IGNORE INTO hosts (host, base_ms, last_ms) VALUES (?, ?, ?)",
        (host, base_ms, since_start_ms),
    )
    host_no, base_ms, offset, guessed = connection.execute(
        "SELECT host_no, base_ms, wall_offset_ms, guessed FROM hosts WHERE host = ?", (host,)
    ).fetchone()
    ledger.host = (host_no, base_ms)
    return Host(
        host_no=host_no,
        base_ms=base_ms,
        wall_offset_ms=offset,
        floor_ms=floor_ms,
        guessed=bool(guessed),
    )


def waited_ms(connection: sqlite3.Connection) -> int:
    """For how long, in all starts together, rows have been stored without a date."""
    (waited,) = connection.execute(
        "SELECT sum(last_ms) FROM hosts WHERE wall_offset_ms IS NULL"
    ).fetchone()
    return int(waited or 0)


def time_known(
    connection: sqlite3.Connection, ledger: Ledger, host_no: int, wall_offset_ms: int
) -> dict[str, int]:
    """The clock is believed: date this start's rows, place those of earlier starts before it.

    Returns the earliest instant that changed, by line.
    """
    changed = _date(connection, ledger, host_no, wall_offset_ms, guessed=False)
    next_began_ms = wall_offset_ms
    for earlier, base_ms, last_ms in _undated(connection):
        offset = max(base_ms, next_began_ms - RESTART_MS - last_ms)
        _least(changed, _date(connection, ledger, earlier, offset, guessed=True))
        next_began_ms = offset
    return changed


def guess(connection: sqlite3.Connection, ledger: Ledger) -> dict[str, int]:
    """Nobody will know the time: every start's rows stay where they were put, and say so."""
    changed: dict[str, int] = {}
    for host_no, base_ms, _ in _undated(connection):
        _least(changed, _date(connection, ledger, host_no, base_ms, guessed=True))
    return changed


def _undated(connection: sqlite3.Connection) -> list[tuple[int, int, int]]:
    return connection.execute(
        "SELECT host_no, base_ms, last_ms FROM hosts WHERE wall_offset_ms IS NULL "
        "ORDER BY host_no DESC"
    ).fetchall()


def _date(
    connection: sqlite3.Connection,
    ledger: Ledger,
    host_no: int,
    wall_offset_ms: int,
    *,
    guessed: bool,
) -> dict[str, int]:
    connection.execute(
        "UPDATE hosts SET wall_offset_ms = ?, guessed = ? WHERE host_no = ?",
        (wall_offset_ms, guessed, host_no),
    )
    changed: dict[str, int] = {}
    for line_id, boot_id, host_offset_ms in connection.execute(
        "SELECT line_id, boot_id, host_offset_ms FROM boots WHERE host_no = ? ORDER BY boot_no",
        (host_no,),
    ).fetchall():
        offset = host_offset_ms + wall_offset_ms
        first = redate(connection, ledger, (line_id, boot_id), offset, not guessed).first_ms
        if first is not None:
            _least(changed, {line_id: first})
    return changed


def _least(into: dict[str, int], more: dict[str, int]) -> None:
    for line_id, at_ms in more.items():
        into[line_id] = min(at_ms, into.get(line_id, at_ms))


def _newest_ms(connection: sqlite3.Connection) -> int:
    """The instant of the newest row; 0 where there is none."""
    (hour,) = connection.execute("SELECT max(hour) FROM blocks").fetchone()
    if hour is None:
        return 0
    packed = connection.execute("SELECT meters FROM blocks WHERE hour = ?", (hour,)).fetchall()
    return max(int(unpack_rows(meters).at_ms[-1]) for (meters,) in packed)
