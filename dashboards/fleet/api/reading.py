"""What is read: lists a page at a time, and single sites."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, TypeVar

import msgspec

from dashboards.fleet.api.cursors import cursor_of, place_of
from dashboards.fleet.api.operation import Call
from dashboards.fleet.api.problems import Refusal, not_there
from dashboards.fleet.api.words import (
    Alarm,
    Cartridge,
    Doubt,
    Event,
    Line,
    Me,
    Page,
    Row,
    Site,
    Visit,
)
from firmware_bridge.fleet.ingest.persons import without_name
from firmware_bridge.fleet.records import chunk_rows, listed
from firmware_bridge.fleet.records.listed import Key, Listed, page_of, tags_of
from firmware_bridge.fleet.records.struct_rows import as_struct
from firmware_bridge.forward.payloads import BatchRow

T = TypeVar("T", bound=msgspec.Struct)
PAGING = frozenset(("limit", "after"))


def me(call: Call) -> Me:
    """Whom the token speaks for."""
    who = call.bearer
    return Me(role=who.role, customer_no=who.customer_no, may_change=who.may_change)


def sites(call: Call) -> Page[Site]:
    """Sites by number."""
    rows, after = _rows(call, listed.SITES)
    return Page(items=_with_tags(call, rows), next=after)


def site(call: Call) -> Site:
    """The site of the address; raises Refusal where there is none to be seen."""
    found = page_of(
        call.connection, listed.SITES, call.sight, {"site_no": call.numbers["site_no"]}, None, 1
    )
    if not found.rows:
        raise not_there()
    return _with_tags(call, found.rows)[0]


def lines(call: Call) -> Page[Line]:
    """Lines as they stand."""
    return _page(call, listed.LINES, _as(Line))


def alarms(call: Call) -> Page[Alarm]:
    """Alarms that are not normal now."""
    return _page(call, listed.ALARMS, _as(Alarm))


def doubts(call: Call) -> Page[Doubt]:
    """Data in doubt."""
    return _page(call, listed.DOUBTS, _as(Doubt))


def cartridges(call: Call) -> Page[Cartridge]:
    """Cartridges that serve or served."""
    return _page(call, listed.CARTRIDGES, _as(Cartridge))


def visits(call: Call) -> Page[Visit]:
    """Stops of rounds."""
    return _page(call, listed.VISITS, _as(Visit))


def events(call: Call) -> Page[Event]:
    """What people did at one site."""
    site(call)
    return _page(call, listed.EVENTS, _event, {"site_no": call.numbers["site_no"]})


def rows(call: Call) -> Page[Row]:
    """Rows of one kind and line of one site within a span."""
    site(call)
    query = call.query
    wanted = chunk_rows.Wanted(
        site_no=call.numbers["site_no"],
        line=query.line,
        kind=query.kind,
        from_ms=query.from_ms,
        to_ms=query.to_ms,
    )
    chunk_no, behind = place_asked(query.after, (int, int)) or (0, 0)
    place = int(chunk_no), int(behind)
    found, after = chunk_rows.page_of(call.connection, wanted, place, query.limit)
    told = [_row(row) for row in found]
    return Page(items=told, next=cursor_of(after))


def _as(form: type[T]) -> Callable[[dict[str, Any]], T]:
    """Rows as this struct: what it has no field for is not told."""
    return lambda row: as_struct(form, row)


def _row(row: BatchRow) -> Row:
    return Row(**msgspec.structs.asdict(without_name(row)))


def _event(row: dict[str, Any]) -> Event:
    sent = without_name(msgspec.json.decode(row["body"], type=BatchRow))
    return as_struct(Event, row, numbers=sent.numbers, words=sent.words)


def _page(
    call: Call,
    wanted: Listed,
    told: Callable[[dict[str, Any]], T],
    more: Mapping[str, Any] | None = None,
) -> Page[T]:
    found, after = _rows(call, wanted, more)
    return Page(items=[told(row) for row in found], next=after)


def _rows(
    call: Call, wanted: Listed, more: Mapping[str, Any] | None = None
) -> tuple[list[dict[str, Any]], str | None]:
    asked = msgspec.structs.asdict(call.query)
    narrowed = {k: v for k, v in asked.items() if k not in PAGING and v is not None}
    forms = [key.type.python_type for key in wanted.keys]
    found = page_of(
        call.connection,
        wanted,
        call.sight,
        narrowed | dict(more or {}),
        place_asked(call.query.after, forms),
        call.query.limit,
    )
    return found.rows, cursor_of(found.after)


def place_asked(cursor: str | None, forms: Any) -> Key | None:
    """The place a cursor names; raises Refusal where it names none of this list."""
    if cursor is None:
        return None
    try:
        return place_of(cursor, forms)
    except ValueError as exc:
        raise Refusal(400, f"after: {exc}") from exc


def _with_tags(call: Call, found: list[dict[str, Any]]) -> list[Site]:
    tags = tags_of(call.connection, [row["site_no"] for row in found])
    return [_site(row, tags.get(row["site_no"], ())) for row in found]


def _site(row: dict[str, Any], tags: tuple[str, ...]) -> Site:
    return as_struct(Site, row, tags=tags)
