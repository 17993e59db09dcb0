"""Lines as they stand, with what asks for a visit: the end ahead, alarms, doubts, silence."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import msgspec
from sqlalchemy import ColumnElement, Connection, Select, and_, exists, func, or_, select

from firmware_bridge.fleet.records.sight import Sight
from firmware_bridge.fleet.records.site_rows import ACTIVE
from firmware_bridge.fleet.records.struct_rows import as_struct
from firmware_bridge.fleet.records.tables import alarms, doubts, lines, sites, tags
from firmware_bridge.forward.payloads import BatchRow

GRAVEST = ("high", "medium", "low")
SILENT = "silent"
"""A doubt that is told from the clock whenever somebody asks."""

LATEST_MS = 16_725_225_600_000
"""2500-01-01: an instant a site tells that lies beyond it stands there, so that it has a date."""


class _Summary(msgspec.Struct):
    """The newest rows as a site's own summary has them; what makes no sense is passed over."""

    newest: dict[str, BatchRow] = {}


_newest = msgspec.json.Decoder(_Summary)
_row = msgspec.json.Decoder(BatchRow)


class LineRow(msgspec.Struct, frozen=True, kw_only=True):
    """One line with its site; figures as the columns of `lines` are named."""

    site_no: int
    site: str
    name: str
    region: str
    address: str
    latitude: float | None
    longitude: float | None
    heard_ms: int | None
    first_heard_ms: int | None
    online: bool | None
    line_no: int
    line: str
    medium: str
    size: str
    cartridge: str
    capacity_mmol: float | None
    fitted_ms: int | None
    estimate_ms: int | None
    remaining_l_p05: float | None
    remaining_l_p50: float | None
    remaining_l_p95: float | None
    days_left_p05: float | None
    days_left_p50: float | None
    days_left_p95: float | None
    end_p05_ms: int | None
    end_p50_ms: int | None
    end_p95_ms: int | None
    outlet_hardness_mmol_l_p50: float | None
    reading_ms: int | None
    trusted: bool | None
    ended: float | None
    ends_by: str
    limit_ms: int | None
    newest: str
    reading: str
    draw: str
    alarms: tuple[tuple[str, str, str], ...] = ()
    """Alarms that are on: (rule, priority, state), the gravest first."""
    doubts: tuple[str, ...] = ()

    @property
    def called(self) -> str:
        """Its site's name."""
        return self.name or self.site

    @property
    def alarm(self) -> str:
        """The priority of the gravest alarm that is on; none: ""."""
        return self.alarms[0][1] if self.alarms else ""

    def newest_rows(self) -> dict[str, BatchRow]:
        """The newest row of each kind; readings and draws stand in columns of their own."""
        found = _newest.decode(self.newest or "{}").newest
        for kind, text in (("reading", self.reading), ("draw", self.draw)):
            if text:
                found[kind] = _row.decode(text)
        return found


class Area(msgspec.Struct, frozen=True, kw_only=True):
    """Which sites: a raw-water region, a tag, some sites or lines by number, or all."""

    region: str = ""
    tag: str = ""
    site_nos: tuple[int, ...] = ()
    line_nos: tuple[int, ...] = ()


_COLUMNS = [
    *(sites.c[n] for n in ("site_no", "site", "name", "region", "address", "latitude",
                           "longitude", "heard_ms", "first_heard_ms", "online")),
    *(lines.c[n] for n in LineRow.__struct_fields__ if n in lines.c and n != "site_no"),
]  # fmt: skip


def in_need(
    connection: Connection, sight: Sight, area: Area, *, ends_by_ms: int, heard_by_ms: int
) -> list[LineRow]:
    """Lines of adopted sites that may ask for a visit."""
    need = needs_somebody(ends_by_ms=ends_by_ms, heard_by_ms=heard_by_ms)
    return _found(connection, _of(sight, area).where(need))


def needs_somebody(*, ends_by_ms: int, heard_by_ms: int) -> ColumnElement[bool]:
    """Whether a line may ask for a visit: it can end before an instant, its end is not known or not
    to be relied on, it has an alarm on or a doubt, or was not heard since an instant."""
    alarm = exists().where(
        alarms.c.site_no == lines.c.site_no,
        alarms.c.line.in_(("", lines.c.line)),
        alarms.c.state.in_(ACTIVE),
    )
    doubt = exists().where(
        doubts.c.site_no == lines.c.site_no, doubts.c.line.in_(("", lines.c.line))
    )
    return or_(
        lines.c.end_p05_ms <= ends_by_ms,
        lines.c.limit_ms <= ends_by_ms,
        lines.c.end_p05_ms.is_(None),
        lines.c.trusted.is_(False),
        sites.c.heard_ms.is_(None),
        sites.c.heard_ms < heard_by_ms,
        alarm,
        doubt,
    )


def every(connection: Connection, sight: Sight, area: Area) -> list[LineRow]:
    """All lines of adopted sites."""
    return _found(connection, _of(sight, area))


def untrusted(connection: Connection, sight: Sight, most: int) -> list[LineRow]:
    """Lines of adopted sites whose newest estimate is not to be relied on."""
    asked = _of(sight, Area()).where(lines.c.trusted.is_(False))
    return _found(connection, asked.order_by(lines.c.line_no).limit(most))


def count_of(connection: Connection, sight: Sight, area: Area) -> int:
    """How many lines adopted sites have."""
    counted = select(func.count()).select_from(lines.join(sites)).where(within(sight, area))
    return connection.execute(counted).scalar_one()


def of_site(connection: Connection, site_no: int) -> list[LineRow]:
    """The lines of one site, whatever its state."""
    asked = select(*_COLUMNS).select_from(lines.join(sites)).where(sites.c.site_no == site_no)
    return _found(connection, asked.order_by(lines.c.line))


def _of(sight: Sight, area: Area) -> Select[Any]:
    return select(*_COLUMNS).select_from(lines.join(sites)).where(within(sight, area))


def within(sight: Sight, area: Area) -> ColumnElement[bool]:
    """Adopted sites of an area that may be seen."""
    conditions = [sight.covers(), sites.c.state == "adopted"]
    if area.region:
        conditions.append(sites.c.region == area.region)
    if area.tag:
        conditions.append(exists().where(tags.c.site_no == sites.c.site_no, tags.c.tag == area.tag))
    if area.site_nos:
        conditions.append(sites.c.site_no.in_(area.site_nos))
    if area.line_nos:
        conditions.append(lines.c.line_no.in_(area.line_nos))
    return and_(*conditions)


def _found(connection: Connection, asked: Select[Any]) -> list[LineRow]:
    rows = connection.execute(asked).mappings().all()
    numbers = {row["site_no"] for row in rows}
    on = _alarms_on(connection, numbers)
    doubted = _doubts(connection, numbers)
    return [_line(row, on, doubted) for row in rows]


def _line(
    row: Mapping[Any, Any],
    on: Mapping[tuple[int, str], list[tuple[str, str, str]]],
    doubted: Mapping[tuple[int, str], list[str]],
) -> LineRow:
    site_no, line = row["site_no"], row["line"]
    found = [a for where in ((site_no, line), (site_no, "")) for a in on.get(where, ())]
    found.sort(key=lambda a: GRAVEST.index(a[1]) if a[1] in GRAVEST else len(GRAVEST))
    told = {d for where in ((site_no, line), (site_no, "")) for d in doubted.get(where, ())}
    dated = {str(name): _dated(at) for name, at in row.items() if name.endswith("_ms")}
    return as_struct(LineRow, row, **dated, alarms=tuple(found), doubts=tuple(sorted(told)))


def _dated(at_ms: int | None) -> int | None:
    return None if at_ms is None else min(max(at_ms, 0), LATEST_MS)


def _alarms_on(
    connection: Connection, numbers: set[int]
) -> dict[tuple[int, str], list[tuple[str, str, str]]]:
    columns = (alarms.c.site_no, alarms.c.line, alarms.c.alarm, alarms.c.priority, alarms.c.state)
    found: dict[tuple[int, str], list[tuple[str, str, str]]] = {}
    for site_no, line, *alarm in connection.execute(
        select(*columns).where(alarms.c.state.in_(ACTIVE))
    ):
        if site_no in numbers:
            found.setdefault((site_no, line), []).append((alarm[0], alarm[1], alarm[2]))
    return found


def _doubts(connection: Connection, numbers: set[int]) -> dict[tuple[int, str], list[str]]:
    found: dict[tuple[int, str], list[str]] = {}
    for site_no, line, doubt in connection.execute(
        select(doubts.c.site_no, doubts.c.line, doubts.c.doubt).where(doubts.c.doubt != SILENT)
    ):
        if site_no in numbers:
            found.setdefault((site_no, line), []).append(doubt)
    return found
