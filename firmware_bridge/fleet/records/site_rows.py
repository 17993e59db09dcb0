"""Sites as lists have them, a page at a time, and what people enter about a site."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

import msgspec
from sqlalchemy import ColumnElement, Connection, Select, Table, and_, exists, func, or_, select

from firmware_bridge.fleet.records.sight import Sight
from firmware_bridge.fleet.records.struct_rows import as_struct
from firmware_bridge.fleet.records.tables import alarms, customers, lines, names, sites, tags

STATES = ("adopted", "unknown", "retired")
SORTS = ("name", "region", "heard", "end")
PAGE = 100
ACTIVE = ("unacknowledged", "acknowledged")
"""States of an alarm that is on, in the words of ISA-18.2 with hyphens."""


class SiteRow(msgspec.Struct, frozen=True, kw_only=True):
    """One site. `end_p50_ms` is the earliest of its lines, `alarms` how many are on."""

    site_no: int
    site: str
    state: str
    name: str
    service: str
    box: str
    card: str
    program: str
    region: str
    address: str
    latitude: float | None
    longitude: float | None
    customer_no: int | None
    customer: str | None
    online: bool | None
    first_heard_ms: int | None
    heard_ms: int | None
    clock_ahead_ms: int | None
    lines: int = 0
    end_p50_ms: int | None = None
    alarms: int = 0
    tags: tuple[str, ...] = ()

    @property
    def called(self) -> str:
        """Its name; where nobody gave it one, what it calls itself."""
        return self.name or self.site


class Wanted(msgspec.Struct, frozen=True, kw_only=True):
    """Which sites, in which order: `text` stands in name, number, address or customer."""

    text: str = ""
    state: str = "adopted"
    region: str = ""
    tag: str = ""
    sort: str = "name"
    down: bool = False


def _of_site(asked: Select[Any], table: Table) -> Any:
    """A figure of each site, looked up where it is needed and nowhere else."""
    return asked.where(table.c.site_no == sites.c.site_no).correlate(sites).scalar_subquery()


_end = _of_site(select(func.min(lines.c.end_p50_ms)), lines)
_lines = _of_site(select(func.count()).select_from(lines), lines)
_on = _of_site(select(func.count()).select_from(alarms).where(alarms.c.state.in_(ACTIVE)), alarms)
_from = (sites, customers, sites.c.customer_no == customers.c.customer_no)
_asked = select(
    sites,
    customers.c.name.label("customer"),
    _lines.label("lines"),
    _end.label("end_p50_ms"),
    _on.label("alarms"),
).join_from(*_from, isouter=True)
_numbers = select(sites.c.site_no).join_from(*_from, isouter=True)
_ORDER: dict[str, ColumnElement[Any]] = {
    "name": func.lower(sites.c.name),
    "region": func.lower(sites.c.region),
    "heard": sites.c.heard_ms,
    "end": _end,
}


def page_of(connection: Connection, sight: Sight, wanted: Wanted, page: int) -> list[SiteRow]:
    """Page 0, 1, ... of the sites, each with its tags."""
    asked = _in_order(_numbers.where(_fits(sight, wanted)), wanted)
    numbers = list(connection.scalars(asked.limit(PAGE).offset(page * PAGE)))
    some = connection.execute(_asked.where(sites.c.site_no.in_(numbers))).mappings()
    found = {row["site_no"]: row for row in some}
    return _with_tags(connection, [found[number] for number in numbers if number in found])


def all_of(connection: Connection, sight: Sight, wanted: Wanted) -> Iterator[SiteRow]:
    """All the sites, some hundreds at a time."""
    asked = _in_order(_asked.where(_fits(sight, wanted)), wanted)
    for some in connection.execute(asked).mappings().partitions(500):
        yield from _with_tags(connection, some)


def count_of(connection: Connection, sight: Sight, wanted: Wanted) -> int:
    """How many there are."""
    asked = (
        select(func.count())
        .select_from(sites.outerjoin(customers, sites.c.customer_no == customers.c.customer_no))
        .where(_fits(sight, wanted))
    )
    return connection.execute(asked).scalar_one()


def one(connection: Connection, sight: Sight, site_no: int) -> SiteRow | None:
    """The site of this number, where it may be seen."""
    asked = _asked.where(sight.covers(), sites.c.site_no == site_no)
    found = connection.execute(asked).mappings().all()
    return next(iter(_with_tags(connection, found)), None)


def counts(connection: Connection, sight: Sight) -> dict[str, int]:
    """How many sites there are of each state."""
    asked = select(sites.c.state, func.count()).where(sight.covers()).group_by(sites.c.state)
    return {row[0]: row[1] for row in connection.execute(asked)}


def regions(connection: Connection, sight: Sight) -> list[str]:
    """Every raw-water region that is named, in order."""
    asked = select(sites.c.region).where(sight.covers(), sites.c.region != "").distinct()
    return sorted(connection.execute(asked).scalars())


def all_tags(connection: Connection, sight: Sight) -> list[str]:
    """Every tag, in order."""
    asked = select(tags.c.tag).join(sites, sites.c.site_no == tags.c.site_no).distinct()
    return sorted(connection.execute(asked.where(sight.covers())).scalars())


def set_state(connection: Connection, site_no: int, state: str) -> None:
    """Adopt or retire a site."""
    connection.execute(sites.update().where(sites.c.site_no == site_no).values(state=state))


def describe(connection: Connection, site_no: int, **values: Any) -> None:
    """What the service company enters about a site: region, place, address, customer."""
    connection.execute(sites.update().where(sites.c.site_no == site_no).values(**values))


def set_tags(connection: Connection, site_no: int, wanted: Sequence[str]) -> None:
    """These tags and no others."""
    connection.execute(tags.delete().where(tags.c.site_no == site_no))
    if wanted:
        rows = [{"site_no": site_no, "tag": tag} for tag in dict.fromkeys(wanted)]
        connection.execute(tags.insert(), rows)


def known_names(connection: Connection, site_no: int) -> list[str]:
    """Names of people that the site's logbook has, those not erased."""
    asked = select(names.c.name).where(names.c.site_no == site_no, names.c.erased_ms.is_(None))
    return sorted(connection.execute(asked).scalars())


def erase_name(connection: Connection, site_no: int, name: str, at_ms: int) -> int:
    """Erase a person's name from what was received of a site; how many rows had it."""
    asked = select(names.c.name_no).where(
        names.c.site_no == site_no, names.c.name == name, names.c.erased_ms.is_(None)
    )
    numbers = list(connection.execute(asked).scalars())
    for number in numbers:
        connection.execute(
            names.update()
            .where(names.c.name_no == number)
            .values(name=f"erased {number}", erased_ms=at_ms)
        )
    return len(numbers)


def _in_order(asked: Select[Any], wanted: Wanted) -> Select[Any]:
    column = _ORDER[wanted.sort]
    ordered = column.desc() if wanted.down else column.asc()
    return asked.order_by(ordered.nulls_last(), sites.c.site_no)


def _fits(sight: Sight, wanted: Wanted) -> ColumnElement[bool]:
    conditions = [sight.covers(), sites.c.state == wanted.state]
    if wanted.text:
        places = (sites.c.name, sites.c.site, sites.c.address, customers.c.name)
        conditions.append(or_(*(p.icontains(wanted.text, autoescape=True) for p in places)))
    if wanted.region:
        conditions.append(sites.c.region == wanted.region)
    if wanted.tag:
        conditions.append(
            exists().where(tags.c.site_no == sites.c.site_no, tags.c.tag == wanted.tag)
        )
    return and_(*conditions)


def _with_tags(connection: Connection, found: Sequence[Mapping[Any, Any]]) -> list[SiteRow]:
    numbers = [row["site_no"] for row in found]
    asked = select(tags.c.site_no, tags.c.tag).where(tags.c.site_no.in_(numbers))
    of: dict[int, list[str]] = {}
    for site_no, tag in connection.execute(asked):
        of.setdefault(site_no, []).append(tag)
    return [
        as_struct(SiteRow, row, tags=tuple(sorted(of.get(row["site_no"], ())))) for row in found
    ]


def numbers_of(connection: Connection, sight: Sight, wanted: Sequence[str]) -> list[int]:
    """The numbers of adopted sites of these names or identities, in the order they are named."""
    folded = [name.lower() for name in wanted]
    asked = select(sites.c.site_no, sites.c.site, sites.c.name).where(
        sight.covers(),
        sites.c.state == "adopted",
        or_(func.lower(sites.c.name).in_(folded), func.lower(sites.c.site).in_(folded)),
    )
    found = [(no, {site.lower(), name.lower()}) for no, site, name in connection.execute(asked)]
    ordered = [no for name in folded for no, called in found if name in called]
    return list(dict.fromkeys(ordered))
