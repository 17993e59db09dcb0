"""Lists for programs: a page at a time by the rows' own keys, each within what may be seen.

A page begins behind the last key of the page before, so rows that come and go meanwhile are
neither told twice nor left out. What a program may ask is named here; nothing else reaches SQL.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

import msgspec
from sqlalchemy import ColumnElement, Connection, FromClause, exists, or_, select, tuple_

from firmware_bridge.fleet.records.sight import Sight
from firmware_bridge.fleet.records.tables import (
    alarms,
    cartridges,
    customers,
    doubts,
    events,
    lines,
    names,
    sites,
    tags,
    visits,
)

Key = tuple[int | str, ...]
Way = Callable[[Any], ColumnElement[bool]]


class Listed(msgspec.Struct, frozen=True, kw_only=True):
    """One list: what it is read from, what a row has, what it is ordered by, how it is narrowed.

    Rows of sites that nobody adopted are not among them, unless `every_state`.
    """

    source: FromClause
    columns: Mapping[str, ColumnElement[Any]]
    keys: tuple[ColumnElement[Any], ...]
    ways: Mapping[str, Way] = {}
    every_state: bool = False


class Found(msgspec.Struct, frozen=True, kw_only=True):
    """A page of rows; `after` is where the next begins, None where there is none."""

    rows: list[dict[str, Any]]
    after: Key | None


def page_of(
    connection: Connection,
    listed: Listed,
    sight: Sight,
    narrowed: Mapping[str, Any],
    after: Key | None,
    limit: int,
) -> Found:
    """The page behind `after`. `narrowed` is by the names of `listed.ways`."""
    asked = (
        select(*(column.label(name) for name, column in listed.columns.items()))
        .select_from(listed.source)
        .add_columns(*(key.label(f"key{n}") for n, key in enumerate(listed.keys)))
        .where(sight.covers(), *(listed.ways[name](value) for name, value in narrowed.items()))
        .order_by(*listed.keys)
        .limit(limit + 1)
    )
    if not listed.every_state:
        asked = asked.where(sites.c.state == "adopted")
    if after is not None:
        asked = asked.where(tuple_(*listed.keys) > tuple_(*after))
    rows = [dict(row) for row in connection.execute(asked).mappings()]
    ends = [tuple(row.pop(f"key{n}") for n in range(len(listed.keys))) for row in rows]
    more = len(rows) > limit
    return Found(rows=rows[:limit], after=ends[limit - 1] if more else None)


def tags_of(connection: Connection, site_nos: Sequence[int]) -> dict[int, tuple[str, ...]]:
    """The tags of these sites, in order."""
    asked = select(tags.c.site_no, tags.c.tag).where(tags.c.site_no.in_(site_nos))
    found: dict[int, list[str]] = {}
    for site_no, tag in connection.execute(asked.order_by(tags.c.tag)):
        found.setdefault(site_no, []).append(tag)
    return {site_no: tuple(own) for site_no, own in found.items()}


def _all(table: Any, *left_out: str) -> dict[str, ColumnElement[Any]]:
    return {column.name: column for column in table.c if column.name not in left_out}


_WITH_CUSTOMER = sites.outerjoin(customers, sites.c.customer_no == customers.c.customer_no)
_OF = {"site": sites.c.site}


def _about(text: str) -> ColumnElement[bool]:
    places = (sites.c.name, sites.c.site, sites.c.address, customers.c.name)
    return or_(*(place.icontains(text, autoescape=True) for place in places))


def _tagged(tag: str) -> ColumnElement[bool]:
    return exists().where(tags.c.site_no == sites.c.site_no, tags.c.tag == tag)


SITES = Listed(
    source=_WITH_CUSTOMER,
    columns=_all(sites, "card", "box", "customer_no") | {"customer": customers.c.name},
    keys=(sites.c.site_no,),
    ways={
        "text": _about,
        "state": lambda state: sites.c.state == state,
        "region": lambda region: sites.c.region == region,
        "tag": _tagged,
        "site": lambda site: sites.c.site == site,
        "site_no": lambda number: sites.c.site_no == number,
    },
    every_state=True,
)
LINES = Listed(
    source=lines.join(sites, sites.c.site_no == lines.c.site_no),
    columns=_all(lines, "newest") | _OF,
    keys=(lines.c.line_no,),
    ways={
        "site_no": lambda number: lines.c.site_no == number,
        "medium": lambda medium: lines.c.medium == medium,
        "size": lambda size: lines.c.size == size,
        "ends_before_ms": lambda at_ms: lines.c.end_p50_ms < at_ms,
    },
)
ALARMS = Listed(
    source=alarms.join(sites, sites.c.site_no == alarms.c.site_no),
    columns=_all(alarms, "body", "seq") | _OF,
    keys=(alarms.c.site_no, alarms.c.line, alarms.c.alarm),
    ways={
        "site_no": lambda number: alarms.c.site_no == number,
        "priority": lambda priority: alarms.c.priority == priority,
        "state": lambda state: alarms.c.state == state,
    },
)
DOUBTS = Listed(
    source=doubts.join(sites, sites.c.site_no == doubts.c.site_no),
    columns=_all(doubts, "body") | _OF,
    keys=(doubts.c.site_no, doubts.c.line, doubts.c.doubt),
    ways={"site_no": lambda number: doubts.c.site_no == number},
)
CARTRIDGES = Listed(
    source=cartridges.join(sites, sites.c.site_no == cartridges.c.site_no),
    columns=_all(cartridges) | _OF,
    keys=(cartridges.c.cartridge_no,),
    ways={
        "site_no": lambda number: cartridges.c.site_no == number,
        "medium": lambda medium: cartridges.c.medium == medium,
        "size": lambda size: cartridges.c.size == size,
        "reached_end": lambda reached: cartridges.c.reached_end == reached,
    },
)
VISITS = Listed(
    source=visits.join(sites, sites.c.site_no == visits.c.site_no),
    columns=_all(visits) | _OF,
    keys=(visits.c.visit_no,),
    ways={
        "visit_no": lambda number: visits.c.visit_no == number,
        "site_no": lambda number: visits.c.site_no == number,
        "state": lambda state: visits.c.state == state,
        "from_day": lambda day: visits.c.day >= day,
        "to_day": lambda day: visits.c.day <= day,
    },
)
EVENTS = Listed(
    source=events.join(sites, sites.c.site_no == events.c.site_no).outerjoin(
        names, (names.c.name_no == events.c.name_no) & names.c.erased_ms.is_(None)
    ),
    columns=_all(events, "name_no") | _OF | {"who": names.c.name},
    keys=(events.c.era, events.c.seq),
    ways={
        "site_no": lambda number: events.c.site_no == number,
        "line": lambda line: events.c.line == line,
        "from_ms": lambda at_ms: events.c.at_ms >= at_ms,
        "to_ms": lambda at_ms: events.c.at_ms <= at_ms,
    },
)
