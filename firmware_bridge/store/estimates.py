"""Estimates: every one that was ever made is kept, so that what was shown then can be told.

A later run over the past gives new rows. Of two estimates the one stored later knew more; an
estimate is *current* while no later one speaks of an instant at or before its own.
"""

from __future__ import annotations

import json
import sqlite3

import msgspec

from analytics.errors import StoreDamaged
from analytics.samples import Estimate
from firmware_bridge.store.ledger import Ledger
from firmware_bridge.store.packing import squeeze, unsqueeze

_write = msgspec.msgpack.Encoder()
_read = msgspec.msgpack.Decoder(Estimate)


def append(
    connection: sqlite3.Connection, ledger: Ledger, line_id: str, estimate: Estimate
) -> None:
    """Store an estimate, unless the very same one is there."""
    body = squeeze(_write.encode(estimate))
    same = connection.execute(
        "SELECT 1 FROM estimates WHERE line_id = ? AND at_ms = ? AND known_at_ms = ? AND body = ?",
        (line_id, estimate.at_ms, estimate.known_at_ms, body),
    ).fetchone()
    if same:
        ledger.count("estimates_doubled")
        return
    connection.execute(
        "INSERT INTO estimates (seq, line_id, cartridge_id, at_ms, known_at_ms, body) "
        "VALUES (?, ?, ?, ?, ?, ?)",
        (
            ledger.take(1),
            line_id,
            estimate.cartridge_id,
            estimate.at_ms,
            estimate.known_at_ms,
            body,
        ),
    )


def latest(connection: sqlite3.Connection, line_id: str) -> Estimate | None:
    """The estimate stored last."""
    return _one(
        connection.execute(
            "SELECT body FROM estimates WHERE line_id = ? ORDER BY seq DESC LIMIT 1", (line_id,)
        ).fetchone()
    )


def as_known(
    connection: sqlite3.Connection, line_id: str, at_ms: int, known_at_ms: int
) -> Estimate | None:
    """What was known at `known_at_ms` about the instant `at_ms`."""
    return _one(
        connection.execute(
            "SELECT body FROM estimates WHERE seq = (SELECT max(seq) FROM estimates "
            "WHERE line_id = ? AND at_ms <= ? AND known_at_ms <= ?)",
            (line_id, at_ms, known_at_ms),
        ).fetchone()
    )


def current(
    connection: sqlite3.Connection, line_id: str, from_ms: int, to_ms: int
) -> list[Estimate]:
    """The current estimates for instants in [from_ms, to_ms), in order of time."""
    (newest,) = connection.execute(
        "SELECT ifnull(max(seq), 0) FROM estimates WHERE line_id = ? AND at_ms < ?",
        (line_id, from_ms),
    ).fetchone()
    kept: list[bytes] = []
    for seq, body in connection.execute(
        "SELECT seq, body FROM estimates WHERE line_id = ? AND at_ms >= ? AND at_ms < ? "
        "ORDER BY at_ms, seq DESC",
        (line_id, from_ms, to_ms),
    ):
        if seq > newest:
            newest = seq
            kept.append(body)
    return [decoded(body) for body in kept]


def sampled(
    connection: sqlite3.Connection, line_id: str, from_ms: int, to_ms: int, width_ms: int
) -> list[Estimate]:
    """The last current estimate of every span of `width_ms` (counted from 1970) that has one."""
    found = connection.execute(
        "SELECT at_ms, max(seq) FROM estimates WHERE line_id = ? AND at_ms >= ? AND at_ms < ? "
        "GROUP BY at_ms ORDER BY at_ms",
        (line_id, from_ms, to_ms),
    ).fetchall()
    (newest,) = connection.execute(
        "SELECT ifnull(max(seq), 0) FROM estimates WHERE line_id = ? AND at_ms < ?",
        (line_id, from_ms),
    ).fetchone()
    last: dict[int, int] = {}
    for at_ms, seq in found:
        if seq > newest:
            newest = seq
            last[at_ms // width_ms] = seq
    bodies = connection.execute(
        "SELECT body FROM estimates WHERE seq IN (SELECT value FROM json_each(?)) ORDER BY seq",
        (json.dumps(list(last.values())),),
    )
    return [decoded(body) for (body,) in bodies]


def as_stored(
    connection: sqlite3.Connection, line_id: str, from_ms: int, to_ms: int
) -> list[Estimate]:
    """Every estimate for instants in [from_ms, to_ms), as it was known when it was stored."""
    found = connection.execute(
        "SELECT body FROM estimates WHERE line_id = ? AND at_ms >= ? AND at_ms < ? ORDER BY seq",
        (line_id, from_ms, to_ms),
    )
    return [decoded(body) for (body,) in found]


def decoded(body: bytes) -> Estimate:
    """The estimate of a stored body; raises StoreDamaged where it is not whole."""
    try:
        return _read.decode(unsqueeze(body))
    except (ValueError, msgspec.MsgspecError) as exc:
        raise StoreDamaged(
            f"an estimate cannot be read: {exc}", "Restore the site's file from a backup."
        ) from exc


def _one(found: tuple[bytes] | None) -> Estimate | None:
    return decoded(found[0]) if found else None
