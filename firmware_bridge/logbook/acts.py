"""From an act to what is stored: who and when, corrections and undos as entries of their own."""

from __future__ import annotations

import secrets

import msgspec

from analytics.errors import ActRefused
from analytics.samples import MINUTE_MS, AnyEvent, RecordRescued, Withdrawn
from analytics.setup import SiteSetup
from firmware_bridge.logbook.checks import OF_ALARMS, faults_of
from firmware_bridge.store.chain import Entry
from firmware_bridge.store.reader import Reader

UNDO_MS = 15 * MINUTE_MS
"""How long an entry may be taken back without a reason."""

STANDING = (Withdrawn, RecordRescued, *OF_ALARMS)
"""What is never taken back: an alarm has its own ways back, the others are made by the program."""


class Desk(msgspec.Struct, frozen=True, kw_only=True):
    """What an act is checked against."""

    site: SiteSetup
    reader: Reader
    now_ms: int


def written(desk: Desk, act: AnyEvent, who: str) -> tuple[AnyEvent, ...]:
    """The events that an act amounts to; two where it corrects an entry.

    Raises ActRefused with every fault. An act whose id is stored already gives none: a form that
    was sent twice is written once.
    """
    if act.event_id and desk.reader.event_known(act.event_id):
        return ()
    act = _signed(act, who, desk.now_ms)
    faults = faults_of(act, desk.site, desk.now_ms)
    if not act.corrects:
        _refuse(faults)
        return (act,)
    old = _holding(desk, act.corrects, "corrects")
    if type(old.event) is not type(act) or isinstance(act, STANDING):
        faults.append(("corrects", "other-kind"))
    if not act.note.strip():
        faults.append(("note", "reason"))
    _refuse(faults)
    return (_withdrawn(old.event, who, desk.now_ms, act.note), act)


def undone(desk: Desk, event_id: str, who: str, reason: str = "") -> tuple[AnyEvent, ...]:
    """The events that take an entry back.

    Within `UNDO_MS` no reason is asked for. What the entry had corrected holds again, as a new
    entry. Raises ActRefused.
    """
    old = _holding(desk, event_id, "event_id")
    if isinstance(old.event, STANDING):
        raise ActRefused([("event_id", "not-undone")])
    faults = [("note", "text")] if len(reason) > 500 or not reason.isprintable() else []
    late = desk.now_ms - old.event.known_at_ms > UNDO_MS
    if late and not reason.strip():
        faults.append(("note", "reason"))
    _refuse(faults)
    gone = _withdrawn(old.event, who, desk.now_ms, reason)
    before = desk.reader.entry(old.event.corrects) if old.event.corrects else None
    if before is None:
        return (gone,)
    again = msgspec.structs.replace(before.event, event_id="", corrects=old.event.event_id)
    return (gone, _signed(again, who, desk.now_ms))


def may_undo(entry: Entry, now_ms: int) -> bool:
    """Whether an entry may still be taken back without a reason."""
    fresh = now_ms - entry.event.known_at_ms <= UNDO_MS
    standing = isinstance(entry.event, STANDING)
    return fresh and not standing and not entry.withdrawn_by and bool(entry.event.who)


def new_id() -> str:
    """An id for an act, so that it is known before it is stored."""
    return f"act-{secrets.token_hex(8)}"


def _signed(act: AnyEvent, who: str, now_ms: int) -> AnyEvent:
    return msgspec.structs.replace(
        act, event_id=act.event_id or new_id(), who=who, known_at_ms=now_ms
    )


def _withdrawn(old: AnyEvent, who: str, now_ms: int, reason: str) -> Withdrawn:
    """It bears the old entry's instant: from there on the past is worked over."""
    return Withdrawn(
        at_ms=old.at_ms,
        known_at_ms=now_ms,
        line_id=old.line_id,
        event_id=f"undo-{old.event_id}",
        who=who,
        note=reason,
        withdraws=old.event_id,
    )


def _holding(desk: Desk, event_id: str, field: str) -> Entry:
    entry = desk.reader.entry(event_id)
    if entry is None:
        raise ActRefused([(field, "no-entry")])
    if entry.withdrawn_by:
        raise ActRefused([(field, "withdrawn")])
    return entry


def _refuse(faults: list[tuple[str, str]]) -> None:
    if faults:
        raise ActRefused(faults)
