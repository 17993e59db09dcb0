"""Every act of a person, one row each, sealed like the logbook's chain.

    seal of a row = SHA-256( seal of the row before, then a line end, then the row as JSON )

A row names people by number only, so that a name can be erased and every seal still fits.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

import msgspec
from sqlalchemy import Connection, select, text

from firmware_bridge.fleet.records.struct_rows import as_struct
from firmware_bridge.fleet.records.tables import audit
from firmware_bridge.store.chain import digest_of

_COLUMNS = (
    audit.c.audit_no,
    audit.c.at_ms,
    audit.c.person_no,
    audit.c.act,
    audit.c.about,
    audit.c.body,
    audit.c.seal,
)


class Act(msgspec.Struct, frozen=True, kw_only=True):
    """What somebody did: `act` is its name for ever, `about` what it was done to ("site 12",
    "person 3"), `body` JSON. `person_no` None: done on the machine itself, by the command line."""

    at_ms: int
    person_no: int | None
    act: str
    about: str = ""
    body: str = "{}"


class Sealed(Act, frozen=True, kw_only=True):
    """An act as it is kept."""

    audit_no: int
    seal: str


class Checked(msgspec.Struct, frozen=True, kw_only=True):
    """What a check found: rows, the last seal, and the number of the first row that does not fit
    what stands before it (0: all do)."""

    rows: int
    head: str
    broken_at: int = 0


def write(connection: Connection, act: Act) -> Sealed:
    """Keep an act; part of the transaction that does it.

    The row is put in before the one before it is read: that makes SQLite take its one writer's
    turn; PostgreSQL is told to lock. So two acts at one moment never follow the same row.
    """
    if connection.dialect.name == "postgresql":
        connection.execute(text("LOCK TABLE audit IN EXCLUSIVE MODE"))
    row = audit.insert().values(**msgspec.structs.asdict(act), seal="")
    number = connection.execute(row.returning(audit.c.audit_no)).scalar_one()
    before = connection.execute(
        select(audit.c.seal)
        .where(audit.c.audit_no < number)
        .order_by(audit.c.audit_no.desc())
        .limit(1)
    ).scalar()
    seal = digest_of(before or "", _told(act))
    connection.execute(audit.update().where(audit.c.audit_no == number).values(seal=seal))
    return Sealed(audit_no=number, seal=seal, **msgspec.structs.asdict(act))


def newest(connection: Connection, most: int, before: int | None = None) -> list[Sealed]:
    """The newest acts, newest first; those numbered below `before`, where it is given."""
    asked = select(*_COLUMNS).order_by(audit.c.audit_no.desc()).limit(most)
    if before is not None:
        asked = asked.where(audit.c.audit_no < before)
    return [_sealed(row) for row in connection.execute(asked).mappings()]


def every(connection: Connection) -> Iterable[Sealed]:
    """All acts in the order they were done."""
    found = connection.execute(select(*_COLUMNS).order_by(audit.c.audit_no))
    return (_sealed(row) for row in found.mappings())


def check(acts: Iterable[Sealed]) -> Checked:
    """Whether any act was changed, taken out or put in afterwards."""
    head, count = "", 0
    for act in acts:
        if act.seal != digest_of(head, _told(act)):
            return Checked(rows=count, head=head, broken_at=act.audit_no)
        head, count = act.seal, count + 1
    return Checked(rows=count, head=head)


def _told(act: Act) -> str:
    return msgspec.json.encode((act.at_ms, act.person_no, act.act, act.about, act.body)).decode()


def _sealed(row: Mapping[Any, Any]) -> Sealed:
    return as_struct(Sealed, row)
