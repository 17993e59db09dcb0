"""Old readings give way: first the rows of an hour, of which the minutes stay, then the minutes.

    rows -> values by the minute (lowest, highest, total, count) -> values by the hour, for ever

By age only what every sink has confirmed is thinned. By need (the limit of the file, a full disk)
the oldest go first whether sent or not; the last two days come last and the running hour never.
Everything here runs in the writer's transaction, and everything dropped is counted.
"""

from __future__ import annotations

import sqlite3

import numpy as np

from firmware_bridge.store.blocks import unpack_numbers, unpack_rows
from firmware_bridge.store.keeping import Keeping
from firmware_bridge.store.ledger import HOUR, Ledger
from firmware_bridge.store.readings import pack_hour
from firmware_bridge.store.rollups import drop_minutes

HOURS_AT_ONCE = 24
"""Hours of one line thinned in one transaction."""
LAST_HOURS = 48
"""Rows of so many hours give way only when nothing older is left."""
LAST_MINUTES = 24 * 31

Key = tuple[str, int]


def by_age(connection: sqlite3.Connection, ledger: Ledger, keeping: Keeping) -> bool:
    """Thin what is older than it is kept and confirmed by every sink; whether something was."""
    sent = sent_up_to(connection, keeping.sinks)
    done = False
    for line_id, newest in list(ledger.newest_hour.items()):
        old = newest - round(keeping.rows_days * 24)
        done |= _thin(connection, ledger, _hours(connection, line_id, old, sent), sent)
        old = newest - round(keeping.minutes_days * 24)
        done |= _drop_minutes(connection, ledger, line_id, old)
    return done


def by_need(connection: sqlite3.Connection, ledger: Ledger, keeping: Keeping) -> bool:
    """Thin the oldest there is, sent or not; False: nothing is left that may go."""
    sent = sent_up_to(connection, keeping.sinks)
    lines = sorted(ledger.newest_hour.items(), key=lambda entry: _oldest(connection, entry[0]))
    for rows_kept, minutes_kept in ((LAST_HOURS, None), (None, LAST_MINUTES), (0, None), (None, 0)):
        for line_id, newest in lines:
            if rows_kept is not None:
                keys = _hours(connection, line_id, newest - rows_kept, None)
                if _thin(connection, ledger, keys, sent):
                    return True
            elif _drop_minutes(connection, ledger, line_id, newest - (minutes_kept or 0)):
                return True
    return False


def sent_up_to(connection: sqlite3.Connection, sinks: tuple[str, ...]) -> int | None:
    """The number up to which every configured sink is done; None: there is no sink to wait for."""
    if not sinks:
        return None
    cursors = dict(connection.execute("SELECT sink, up_to_seq FROM cursors"))
    return min(int(cursors.get(sink, 0)) for sink in sinks)


def _oldest(connection: sqlite3.Connection, line_id: str) -> int:
    (hour,) = connection.execute(
        "SELECT min(hour) FROM blocks WHERE line_id = ?", (line_id,)
    ).fetchone()
    return 0 if hour is None else int(hour)


def _hours(
    connection: sqlite3.Connection, line_id: str, before_hour: int, sent: int | None
) -> list[Key]:
    """The oldest hours of the line that may be thinned, none that a sink still waits for.

    Rows that still wait for their date are passed over: they are not as old as they look.
    """
    found = connection.execute(
        "SELECT hour FROM blocks WHERE line_id = ? AND hour < ? GROUP BY hour "
        "HAVING sum(unsure) = 0 AND (? IS NULL OR max(last_seq) <= ?) ORDER BY hour LIMIT ?",
        (line_id, before_hour, sent, sent, HOURS_AT_ONCE),
    )
    return [(line_id, int(hour)) for (hour,) in found]


def _thin(
    connection: sqlite3.Connection, ledger: Ledger, keys: list[Key], sent: int | None
) -> bool:
    for key in keys:
        if key in ledger.open_hours:
            pack_hour(connection, key)
            del ledger.open_hours[key]
        blocks = connection.execute(
            "SELECT block_no, rows, first_seq, last_seq FROM blocks "
            "WHERE line_id = ? AND hour = ? AND level = ?",
            (*key, HOUR),
        ).fetchall()
        for block_no, rows, first_seq, last_seq in blocks:
            ledger.count("rows_thinned", rows)
            if sent is not None and last_seq > sent:
                unsent = rows if first_seq > sent else _above(connection, block_no, sent)
                ledger.count("rows_thinned_unsent", unsent)
            connection.execute("DELETE FROM blocks WHERE block_no = ?", (block_no,))
        _remember(connection, ledger, key[0], rows_from_hour=key[1] + 1)
    return bool(keys)


def _above(connection: sqlite3.Connection, block_no: int, sent: int) -> int:
    meters, numbers = connection.execute(
        "SELECT meters, numbers FROM blocks WHERE block_no = ?", (block_no,)
    ).fetchone()
    seq = unpack_numbers(numbers, unpack_rows(meters).at_ms).seq
    return int(np.count_nonzero(seq > sent))


def _drop_minutes(
    connection: sqlite3.Connection, ledger: Ledger, line_id: str, before_hour: int
) -> bool:
    """Drop minutes of the oldest hours whose rows are gone already."""
    before = min(before_hour, ledger.rows_from_hour.get(line_id, before_hour - 1))
    hours = [
        int(hour)
        for (hour,) in connection.execute(
            "SELECT DISTINCT hour FROM minutely WHERE line_id = ? AND channel = 'pulses' "
            "AND hour < ? ORDER BY hour LIMIT ?",
            (line_id, before, 7 * HOURS_AT_ONCE),
        )
    ]
    for hour in hours:
        ledger.count("minutes_dropped", drop_minutes(connection, line_id, hour))
    if hours:
        _remember(connection, ledger, line_id, minutes_from_hour=hours[-1] + 1)
    return bool(hours)


def _remember(
    connection: sqlite3.Connection,
    ledger: Ledger,
    line_id: str,
    rows_from_hour: int = 0,
    minutes_from_hour: int = 0,
) -> None:
    connection.execute(
        "INSERT INTO thinned (line_id, rows_from_hour, minutes_from_hour) VALUES (?, ?, ?) "
        "ON CONFLICT (line_id) DO UPDATE SET "
        "rows_from_hour = max(rows_from_hour, excluded.rows_from_hour), "
        "minutes_from_hour = max(minutes_from_hour, excluded.minutes_from_hour)",
        (line_id, rows_from_hour, minutes_from_hour),
    )
    known = ledger.rows_from_hour.get(line_id, 0)
    ledger.rows_from_hour[line_id] = max(known, rows_from_hour)
