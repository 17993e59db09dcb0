"""Addresses that are told of alarms, and the changes of alarms that are to be told."""

from __future__ import annotations

import msgspec
from sqlalchemy import ColumnElement, Connection, func, select

from firmware_bridge.fleet.records.bodies import unpacked
from firmware_bridge.fleet.records.engine import Records
from firmware_bridge.fleet.records.sight import Sight
from firmware_bridge.fleet.records.struct_rows import as_struct
from firmware_bridge.fleet.records.tables import chunks, customers, hooks, marks, sites
from firmware_bridge.forward.payloads import BatchRow

TURN = "hooks turn"
DIGITS = 16
"""Of an instant in a mark: as texts they are in their order."""


class Hook(msgspec.Struct, frozen=True, kw_only=True):
    """One address; `customer_no` says whose sites it is told of, None: of all."""

    hook_no: int
    url: str
    customer_no: int | None
    customer: str | None
    made_ms: int


class Change(msgspec.Struct, frozen=True, kw_only=True):
    """One change of an alarm at a site, with the number of the parcel it came in."""

    chunk_no: int
    site: str
    name: str
    line: str
    row: BatchRow


_asked = (
    select(hooks, customers.c.name.label("customer"))
    .join_from(hooks, customers, hooks.c.customer_no == customers.c.customer_no, isouter=True)
    .where(hooks.c.ended_ms.is_(None))
    .order_by(hooks.c.hook_no)
)


def _seen(sight: Sight) -> list[ColumnElement[bool]]:
    if sight.everything:
        return []
    return [hooks.c.customer_no == (-1 if sight.customer_no is None else sight.customer_no)]


def all_hooks(connection: Connection, sight: Sight) -> list[Hook]:
    """The addresses at work: all of them, or those of one customer."""
    found = connection.execute(_asked.where(*_seen(sight))).mappings()
    return [as_struct(Hook, row) for row in found]


def add(connection: Connection, url: str, customer_no: int | None, at_ms: int) -> int:
    """A new address; its number."""
    made = hooks.insert().values(url=url, customer_no=customer_no, made_ms=at_ms)
    return int(connection.execute(made.returning(hooks.c.hook_no)).scalar_one())


def end(connection: Connection, sight: Sight, hook_no: int, at_ms: int) -> bool:
    """The address is told nothing more; whether it was there for whoever asks."""
    ended = connection.execute(
        hooks.update()
        .where(hooks.c.hook_no == hook_no, hooks.c.ended_ms.is_(None), *_seen(sight))
        .values(ended_ms=at_ms)
    )
    return ended.rowcount > 0


def take_turn(
    records: Records, connection: Connection, runner: str, now_ms: int, for_ms: int
) -> bool:
    """Whether it is this runner's turn to tell: it was already, or nobody's has been for a while.

    One statement decides, so that of several processes one has the turn, and another takes it over
    when that one is gone.
    """
    mine = f"{now_ms + for_ms:0{DIGITS}d} {runner}"
    connection.execute(records.upsert(marks, ("mark",)), {"mark": TURN, "value": ""})
    over = marks.c.value < f"{now_ms:0{DIGITS}d}"
    taken = connection.execute(
        marks.update()
        .where(marks.c.mark == TURN, over | marks.c.value.endswith(f" {runner}"))
        .values(value=mine)
    )
    return taken.rowcount == 1


def newest_chunk(connection: Connection) -> int:
    """The number of the newest parcel of any rows."""
    asked = select(func.coalesce(func.max(chunks.c.chunk_no), 0))
    return int(connection.execute(asked).scalar_one())


def newest_alarm(connection: Connection, after: int, up_to: int) -> int:
    """The number of the newest parcel of alarms in (after, up_to]; 0 where there is none."""
    asked = (
        select(chunks.c.chunk_no)
        .where(chunks.c.chunk_no > after, chunks.c.chunk_no <= up_to, chunks.c.kind == "alarm")
        .order_by(chunks.c.chunk_no.desc())
        .limit(1)
    )
    return int(connection.execute(asked).scalar() or 0)


def changes_in(
    connection: Connection, hook: Hook, after: int, up_to: int, since_ms: int, most: int
) -> tuple[list[Change], int]:
    """Changes of alarms in the parcels numbered in (after, up_to], of adopted sites the hook is
    told of, not older than `since_ms`; and the number of the last parcel looked at."""
    asked = (
        select(chunks.c.chunk_no, chunks.c.line, chunks.c.body, sites.c.site, sites.c.name)
        .join(sites, sites.c.site_no == chunks.c.site_no)
        .where(
            chunks.c.chunk_no > after,
            chunks.c.chunk_no <= up_to,
            chunks.c.kind == "alarm",
            chunks.c.to_ms >= since_ms,
            sites.c.state == "adopted",
        )
        .order_by(chunks.c.chunk_no)
        .limit(most)
    )
    if hook.customer_no is not None:
        asked = asked.where(sites.c.customer_no == hook.customer_no)
    rows = connection.execute(asked).all()
    found = [
        Change(chunk_no=number, site=site, name=name, line=line, row=row)
        for number, line, body, site, name in rows
        for row in unpacked(body)
        if row.at_ms >= since_ms
    ]
    return found, rows[-1][0] if len(rows) == most else up_to
