"""How lines stand for the rounds ahead: the records, thought over by `analytics.fleet`."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, timedelta

import msgspec

from analytics.fleet.bring import Item, needed
from analytics.fleet.due import Due, Need, Rules, Standing, due
from analytics.samples import DAY_MS
from dashboards.fleet.asked import Asked
from firmware_bridge.fleet.records import line_rows, stand_rows
from firmware_bridge.fleet.records.line_rows import Area, LineRow
from firmware_bridge.fleet.records.sight import Connection
from firmware_bridge.fleet.records.stand_rows import LineStand

AHEAD_DAYS = 42
"""How far ahead the list looks."""
EVERY_DAYS = 7
"""Days between two rounds of an area, where nobody says otherwise (common practice)."""
MOST_ROUNDS = 7
FURTHEST_DAYS = 400
NEW_MS = 2 * DAY_MS
"""A site's first figure may take so long (own choice)."""
KEPT_MS = 1500
"""What sites say is on the lists within two seconds, this included."""


class Rounds(msgspec.Struct, frozen=True, kw_only=True):
    """The days on which a round of the area can be: the next one, and so many days later each."""

    days: tuple[date, ...]
    every: int

    @property
    def next(self) -> date:
        """The next one."""
        return self.days[0]

    @property
    def after(self) -> date:
        """The one after: somebody comes then if nobody goes on the next."""
        return self.days[1]


class Ranked(msgspec.Struct, frozen=True, kw_only=True):
    """One line with how it stands and what a visit to it needs."""

    row: LineStand
    due: Due
    items: tuple[Item, ...]


class Stands(msgspec.Struct, frozen=True, kw_only=True):
    """The same with all that is known of the line, to be told of."""

    row: LineRow
    due: Due
    items: tuple[Item, ...]


def rounds_of(asked: Asked) -> Rounds:
    """The rounds as asked for: `next` (a date) and `every` (days); what cannot be is passed over.

    Unless asked otherwise the next is the next working day, today after the start of a round not
    counted.
    """
    every = _whole(asked.query.get("every", ""), EVERY_DAYS, 1, 60)
    first = day_of(asked.query.get("next", ""), asked.when.today) or _next_working_day(asked)
    count = max(2, min(MOST_ROUNDS, AHEAD_DAYS // every + 1))
    return Rounds(days=tuple(first + timedelta(days=every * n) for n in range(count)), every=every)


def day_of(text: str, today: date) -> date | None:
    """A day as typed; None where it is none, is past or too far."""
    try:
        found = date.fromisoformat(text)
    except ValueError:
        return None
    return found if 0 <= (found - today).days <= FURTHEST_DAYS else None


def area_of(query: Mapping[str, str]) -> Area:
    """The area as asked for."""
    return Area(region=query.get("region", "")[:200], tag=query.get("tag", "")[:100])


def ranked(asked: Asked, area: Area, rounds: Rounds) -> list[Ranked]:
    """Every line that may ask for a visit, the gravest first; kept for a moment, since all who plan
    ask for the same."""
    key = ("ranked", asked.sight, area, rounds.days)
    return asked.kept.get(key, lambda own: _ranked(asked, own, area, rounds), KEPT_MS)


def _ranked(asked: Asked, connection: Connection, area: Area, rounds: Rounds) -> list[Ranked]:
    ends_by_ms = max(asked.now_ms + AHEAD_DAYS * DAY_MS, start_of(asked, rounds.after))
    rows = stand_rows.in_need(
        connection,
        asked.sight,
        area,
        ends_by_ms=ends_by_ms,
        heard_by_ms=asked.now_ms - asked.house.silent_ms,
    )
    by_number = {row.line_no: row for row in rows}
    found = [
        Ranked(row=row, due=one, items=needed(one, row.medium, row.size))
        for one in _judged(asked, rows, rounds)
        for row in (by_number[one.line_no],)
    ]
    return sorted(found, key=lambda one: is_new(asked, one.row))


def is_new(asked: Asked, row: LineRow | LineStand) -> bool:
    """Whether a line was heard of first so lately that its first figure is still on its way:
    nobody is sent for the want of it."""
    begun_ms = row.first_heard_ms
    fresh = begun_ms is not None and asked.now_ms - begun_ms < NEW_MS
    return fresh and row.estimate_ms is None and not row.alarm


def wants_a_visit(asked: Asked, one: Ranked) -> bool:
    """Whether somebody should go on the next round."""
    return one.due.need is not Need.RIGHT and not is_new(asked, one.row)


def told(asked: Asked, found: Sequence[Ranked]) -> list[Stands]:
    """These lines with all that is known of them, in their order."""
    if not found:
        return []
    area = Area(line_nos=tuple(one.row.line_no for one in found))
    rows = {row.line_no: row for row in line_rows.every(asked.connection, asked.sight, area)}
    return [
        Stands(row=rows[one.row.line_no], due=one.due, items=one.items)
        for one in found
        if one.row.line_no in rows
    ]


def stand(asked: Asked, rows: list[LineRow], rounds: Rounds) -> list[Stands]:
    """These lines for these rounds, the gravest first."""
    by_number = {row.line_no: row for row in rows}
    return [
        Stands(row=row, due=one, items=needed(one, row.medium, row.size))
        for one in _judged(asked, rows, rounds)
        for row in (by_number[one.line_no],)
    ]


def _judged(
    asked: Asked, rows: Sequence[LineRow] | Sequence[LineStand], rounds: Rounds
) -> list[Due]:
    """How lines stand, the gravest first. Only the next two rounds are asked for: what comes later
    is seen in the drawing."""
    starts = [start_of(asked, day) for day in rounds.days[:2]]
    rules = Rules(silent_ms=asked.house.silent_ms)
    return due([standing_of(row) for row in rows], asked.now_ms, starts, rules)


def start_of(asked: Asked, day: date) -> int:
    """The instant at which a round of this day starts."""
    return asked.when.midnight(day) + asked.house.start_minute * 60_000


def standing_of(row: LineRow | LineStand) -> Standing:
    """What the records have of a line, in the words of `analytics.fleet`."""
    return Standing(
        line_no=row.line_no,
        estimate_ms=row.estimate_ms,
        end_p05_ms=row.end_p05_ms,
        end_p50_ms=row.end_p50_ms,
        end_p95_ms=row.end_p95_ms,
        ended=row.ended or 0.0,
        ends_by=row.ends_by,
        limit_ms=row.limit_ms,
        heard_ms=row.heard_ms,
        alarm=row.alarm,
        doubted=bool(row.doubts) if isinstance(row, LineRow) else row.doubted,
        trusted=row.trusted is not False,
    )


def _next_working_day(asked: Asked) -> date:
    day = asked.when.today + timedelta(days=1)
    while asked.house.weekdays and day.weekday() not in asked.house.weekdays:
        day += timedelta(days=1)
    return day


def _whole(text: str, usual: int, least: int, most: int) -> int:
    return min(max(int(text), least), most) if text.isascii() and text.isdecimal() else usual


GLASSES = {
    Need.ACT: "act",
    Need.DUE: "due",
    Need.DOUBT: "doubt",
    Need.SILENT: "silent",
    Need.RIGHT: "right",
}
"""The sign of each need."""
