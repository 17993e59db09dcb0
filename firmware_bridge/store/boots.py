"""Boots of the nodes: when each was first seen, and what turns its uptime into an instant."""

from __future__ import annotations

import sqlite3

import msgspec


class KnownBoot(msgspec.Struct, frozen=True, kw_only=True):
    """One boot of the node of a line.

    `first_ms` is the instant its first row was stored under. `offset_ms` + uptime is the instant,
    once that was told. Every frame up to `confirmed` is durable or past having.
    """

    boot_no: int
    line_id: str
    boot_id: int
    first_ms: int
    offset_ms: int | None
    confirmed: int


def all_boots(connection: sqlite3.Connection) -> list[KnownBoot]:
    """Every boot, in the order they were first seen."""
    return [
        KnownBoot(
            boot_no=boot_no,
            line_id=line_id,
            boot_id=boot_id,
            first_ms=first_ms,
            offset_ms=offset_ms,
            confirmed=done,
        )
        for boot_no, line_id, boot_id, first_ms, offset_ms, done in connection.execute(
            "SELECT boot_no, line_id, boot_id, first_ms, offset_ms, done_up_to FROM boots "
            "ORDER BY boot_no"
        )
    ]


def confirmed(connection: sqlite3.Connection, boot_id: int) -> int | None:
    """The highest frame number without a gap, on every line of the boot; None: not known."""
    (done,) = connection.execute(
        "SELECT min(done_up_to) FROM boots WHERE boot_id = ?", (boot_id,)
    ).fetchone()
    return None if done is None else int(done)


def heard(
    connection: sqlite3.Connection, host: tuple[int, int], boot_no: int, at_ms: int, uptime_ms: int
) -> None:
    """A row of the boot came while the clock was unsure: it waits for its date.

    `host` is the number and base of this machine's start; `at_ms` where the row was put, which is
    the base + the machine's time since its start.
    """
    host_no, base_ms = host
    since_start_ms = at_ms - base_ms
    connection.execute(
        "UPDATE boots SET host_no = ?, host_offset_ms = ?, offset_ms = NULL WHERE boot_no = ?",
        (host_no, since_start_ms - uptime_ms, boot_no),
    )
    connection.execute(
        "UPDATE hosts SET last_ms = max(last_ms, ?) WHERE host_no = ?", (since_start_ms, host_no)
    )
