"""Stops of rounds: planned, done, dropped."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import msgspec
from sqlalchemy import Connection, func, select

from firmware_bridge.fleet.records.sight import Sight
from firmware_bridge.fleet.records.struct_rows import as_struct
from firmware_bridge.fleet.records.tables import sites, visits

STATES = ("planned", "done", "dropped")


class Visit(msgspec.Struct, frozen=True, kw_only=True):
    """One stop; `day` as ISO date, `place` its order within the day."""

    visit_no: int
    site_no: int
    site: str
    name: str
    line: str
    day: str
    state: str
    person_no: int | None
    place: int
    note: str


class Stop(msgspec.Struct, frozen=True, kw_only=True):
    """A stop to be planned; `line` "" is the whole site."""

    site_no: int
    line: str = ""


_asked = select(visits, sites.c.site, sites.c.name).join(sites, sites.c.site_no == visits.c.site_no)


def of_day(connection: Connection, sight: Sight, day: str) -> list[Visit]:
    """The stops of a day in their order, dropped ones at the end."""
    asked = _asked.where(sight.covers(), visits.c.day == day).order_by(
        visits.c.state == "dropped", visits.c.place, visits.c.visit_no
    )
    return [_visit(row) for row in connection.execute(asked).mappings()]


def one(connection: Connection, sight: Sight, visit_no: int) -> Visit | None:
    """The stop of this number, where its site may be seen."""
    asked = _asked.where(sight.covers(), visits.c.visit_no == visit_no)
    found = connection.execute(asked).mappings().first()
    return None if found is None else _visit(found)


def planned(connection: Connection, from_day: str) -> dict[int, str]:
    """The first day from `from_day` on for which each site is planned."""
    asked = (
        select(visits.c.site_no, func.min(visits.c.day))
        .where(visits.c.state == "planned", visits.c.day >= from_day)
        .group_by(visits.c.site_no)
    )
    return {row[0]: row[1] for row in connection.execute(asked)}


def days(connection: Connection, from_day: str, most: int) -> list[tuple[str, int]]:
    """Days with stops planned, with how many."""
    asked = (
        select(visits.c.day, func.count())
        .where(visits.c.state == "planned", visits.c.day >= from_day)
        .group_by(visits.c.day)
        .order_by(visits.c.day)
        .limit(most)
    )
    return [(day, number) for day, number in connection.execute(asked)]


def plan(
    connection: Connection, day: str, stops: Sequence[Stop], person_no: int | None
) -> list[int]:
    """Plan these stops for the day, in this order, in place of those still planned for it; what is
    done or dropped stays. The numbers of the new ones."""
    connection.execute(visits.delete().where(visits.c.day == day, visits.c.state == "planned"))
    numbers = []
    for place, stop in enumerate(stops):
        row = {"site_no": stop.site_no, "line": stop.line, "day": day, "place": place}
        made = visits.insert().values(**row, person_no=person_no).returning(visits.c.visit_no)
        numbers.append(connection.execute(made).scalar_one())
    return numbers


def settle(connection: Connection, visit_no: int, state: str, note: str) -> None:
    """A stop is done or dropped."""
    connection.execute(
        visits.update().where(visits.c.visit_no == visit_no).values(state=state, note=note)
    )


def _visit(row: Mapping[Any, Any]) -> Visit:
    return as_struct(Visit, row)
