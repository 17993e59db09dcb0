"""Lines in as few columns as it takes to say who is due: what is read of a whole fleet at once."""

from __future__ import annotations

from typing import Any

import msgspec
from sqlalchemy import Connection, Select, select

from firmware_bridge.fleet.records.line_rows import (
    GRAVEST,
    LATEST_MS,
    SILENT,
    Area,
    needs_somebody,
    within,
)
from firmware_bridge.fleet.records.sight import Sight
from firmware_bridge.fleet.records.site_rows import ACTIVE
from firmware_bridge.fleet.records.tables import alarms, doubts, lines, sites


class LineStand(msgspec.Struct, frozen=True, kw_only=True):
    """One line. `alarm` is the priority of its gravest alarm that is on (none: ""), `doubted`
    whether its data contradict each other."""

    line_no: int
    line: str
    site_no: int
    medium: str
    size: str
    fitted_ms: int | None
    estimate_ms: int | None
    end_p05_ms: int | None
    end_p50_ms: int | None
    end_p95_ms: int | None
    ended: float | None
    ends_by: str
    limit_ms: int | None
    trusted: bool | None
    heard_ms: int | None
    first_heard_ms: int | None
    alarm: str = ""
    doubted: bool = False


_NAMES = tuple(name for name in LineStand.__struct_fields__ if name not in ("alarm", "doubted"))
_ENDS = ("estimate_ms", "end_p05_ms", "end_p50_ms", "end_p95_ms", "limit_ms", "heard_ms")
_COLUMNS = [lines.c[name] if name in lines.c else sites.c[name] for name in _NAMES]


def in_need(
    connection: Connection, sight: Sight, area: Area, *, ends_by_ms: int, heard_by_ms: int
) -> list[LineStand]:
    """Lines that may ask for a visit; see `line_rows.needs_somebody`."""
    need = needs_somebody(ends_by_ms=ends_by_ms, heard_by_ms=heard_by_ms)
    return _found(connection, _of(sight, area).where(need))


def every(connection: Connection, sight: Sight, area: Area) -> list[LineStand]:
    """All lines of adopted sites."""
    return _found(connection, _of(sight, area))


def _of(sight: Sight, area: Area) -> Select[Any]:
    return select(*_COLUMNS).select_from(lines.join(sites)).where(within(sight, area))


def _found(connection: Connection, asked: Select[Any]) -> list[LineStand]:
    gravest = _gravest(connection)
    doubted = _doubted(connection)
    found = []
    for row in connection.execute(asked):
        values = dict(zip(_NAMES, row, strict=True))
        for name in _ENDS:
            at_ms = values[name]
            if at_ms is not None and not 0 <= at_ms <= LATEST_MS:
                values[name] = min(max(at_ms, 0), LATEST_MS)
        site_no, line = values["site_no"], values["line"]
        ranks = [gravest[place] for place in ((site_no, line), (site_no, "")) if place in gravest]
        doubt = (site_no, line) in doubted or (site_no, "") in doubted
        alarm = GRAVEST[min(ranks)] if ranks else ""
        found.append(LineStand(**values, alarm=alarm, doubted=doubt))
    return found


def _gravest(connection: Connection) -> dict[tuple[int, str], int]:
    """How grave the gravest alarm is of each line that has one on; the place in `GRAVEST`."""
    asked = select(alarms.c.site_no, alarms.c.line, alarms.c.priority).where(
        alarms.c.state.in_(ACTIVE)
    )
    found: dict[tuple[int, str], int] = {}
    for site_no, line, priority in connection.execute(asked):
        rank = GRAVEST.index(priority) if priority in GRAVEST else len(GRAVEST) - 1
        found[site_no, line] = min(rank, found.get((site_no, line), rank))
    return found


def _doubted(connection: Connection) -> set[tuple[int, str]]:
    asked = select(doubts.c.site_no, doubts.c.line).where(doubts.c.doubt != SILENT)
    return {(site_no, line) for site_no, line in connection.execute(asked)}
