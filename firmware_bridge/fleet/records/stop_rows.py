"""One stop of a round, planned by itself."""

from __future__ import annotations

from sqlalchemy import Connection, exists, func, select

from firmware_bridge.fleet.records.tables import lines, visits


def has_line(connection: Connection, site_no: int, line: str) -> bool:
    """Whether the site has a line of this name."""
    asked = select(exists().where(lines.c.site_no == site_no, lines.c.line == line))
    return bool(connection.scalar(asked))


def add(
    connection: Connection, site_no: int, line: str, day: str, note: str, person_no: int
) -> int:
    """Plan a stop at the end of its day; the number."""
    last = connection.scalar(select(func.max(visits.c.place)).where(visits.c.day == day))
    made = connection.execute(
        visits.insert().values(
            site_no=site_no,
            line=line,
            day=day,
            note=note,
            person_no=person_no,
            place=0 if last is None else last + 1,
        )
    )
    (number,) = made.inserted_primary_key or (0,)
    return int(number)
