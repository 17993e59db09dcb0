"""Dated events: what people did and read, each once, an undo as an event of its own."""

from __future__ import annotations

import sqlite3

import msgspec

from analytics.errors import StoreDamaged, StoreError
from analytics.samples import AnyEvent, Event, Withdrawn
from firmware_bridge.store.chain import Entry, digest_of
from firmware_bridge.store.ledger import Ledger

FAR_MS = 1 << 62
"""Later than anything."""

ENTRY = (
    "SELECT seq, body, digest, "
    "(SELECT min(undo.seq) FROM events AS undo WHERE undo.withdraws = e.event_id) FROM events AS e"
)

_write = msgspec.json.Encoder()
_read: msgspec.json.Decoder[AnyEvent] = msgspec.json.Decoder(AnyEvent)


class KnownEvent(msgspec.Struct, frozen=True, kw_only=True):
    """An event with its number in the site and whether it was withdrawn."""

    seq: int
    event: AnyEvent
    withdrawn: bool


def append(connection: sqlite3.Connection, ledger: Ledger, event: AnyEvent) -> None:
    """Store an event unless its id is there; one without an id gets "e<number>" for its id.

    Raises StoreError for an event that could not be read back, such as one with a value of NaN.
    """
    if event.event_id and is_known(connection, event.event_id):
        ledger.count("events_doubled")
        return
    seq = ledger.take(1)
    if not event.event_id:
        event = msgspec.structs.replace(event, event_id=f"e{seq}")
    body = _write.encode(event).decode()
    _check(body)
    connection.execute(
        "INSERT INTO events (seq, event_id, kind, line_id, at_ms, known_at_ms, withdraws, body, "
        "digest) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
        (
            seq,
            event.event_id,
            kind_of(event),
            event.line_id,
            event.at_ms,
            event.known_at_ms,
            event.withdraws if isinstance(event, Withdrawn) else None,
            body,
            digest_of(_head(connection), body),
        ),
    )


def _head(connection: sqlite3.Connection) -> str:
    """The digest that the next entry follows."""
    found = connection.execute("SELECT digest FROM events ORDER BY seq DESC LIMIT 1").fetchone()
    return (found[0] or "") if found else ""


def entries_of(connection: sqlite3.Connection, newest: int | None) -> list[Entry]:
    """The logbook in the order it was written, all of it or its `newest` entries."""
    found = connection.execute(
        f"{ENTRY} ORDER BY seq DESC LIMIT ?",
        (-1 if newest is None else newest,),
    ).fetchall()
    return [_entry(*row) for row in reversed(found)]


def entry_of(connection: sqlite3.Connection, event_id: str) -> Entry | None:
    """The entry of this id; None where there is none."""
    found = connection.execute(f"{ENTRY} WHERE event_id = ?", (event_id,)).fetchone()
    return None if found is None else _entry(*found)


def _entry(seq: int, body: str, digest: str | None, withdrawn_by: int | None) -> Entry:
    return Entry(
        seq=seq,
        event=decoded(body),
        body=body,
        digest=digest or "",
        withdrawn_by=withdrawn_by or 0,
    )


def is_known(connection: sqlite3.Connection, event_id: str) -> bool:
    """Whether an event of this id is stored."""
    found = connection.execute("SELECT 1 FROM events WHERE event_id = ?", (event_id,)).fetchone()
    return found is not None


def events_of(
    connection: sqlite3.Connection, line_id: str | None, from_ms: int, to_ms: int
) -> list[KnownEvent]:
    """Events dated in [from_ms, to_ms), in order of time; those of the whole site with any line."""
    found = connection.execute(
        "SELECT seq, body, EXISTS (SELECT 1 FROM events AS undo WHERE undo.withdraws = e.event_id) "
        "FROM events AS e WHERE at_ms >= ? AND at_ms < ? "
        "AND (? IS NULL OR line_id = ? OR line_id = '') ORDER BY at_ms, seq",
        (from_ms, to_ms, line_id, line_id),
    )
    return [
        KnownEvent(seq=seq, event=decoded(body), withdrawn=bool(undone))
        for seq, body, undone in found
    ]


def decoded(body: str) -> AnyEvent:
    """The event of a stored body; raises StoreDamaged where it is not whole."""
    try:
        return _read.decode(body)
    except (msgspec.MsgspecError, RecursionError) as exc:
        raise StoreDamaged(
            f"an event cannot be read: {exc}", "Restore the site's file from a backup."
        ) from exc


def kind_of(event: Event) -> str:
    """The event's kind as it stands in files and messages, such as "drop-test"."""
    return str(event.__struct_config__.tag)


def _check(body: str) -> None:
    try:
        _read.decode(body)
    except msgspec.ValidationError as exc:
        raise StoreError(
            f"an event cannot be stored: {exc}", "Every value of an event must be a finite number."
        ) from exc
