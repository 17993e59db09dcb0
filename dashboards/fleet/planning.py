"""A day's round: which sites, in which order, when the van is where, what goes into it."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

import msgspec

from analytics.fleet.bring import Item
from analytics.fleet.distance import Place, middle_of
from analytics.fleet.round import Day, Round, Stop, order_given, plan_round
from dashboards.fleet.asked import Asked
from dashboards.fleet.standing import (
    Rounds,
    Stands,
    area_of,
    ranked,
    rounds_of,
    stand,
    start_of,
    told,
    wants_a_visit,
)
from firmware_bridge.fleet.records import line_rows, site_rows, visit_rows
from firmware_bridge.fleet.records.line_rows import Area

START = "round start"
"""The mark that remembers from where the van starts."""
MOST_CONSIDERED = 24
"""The gravest so many sites are weighed for one day: more never fit into one."""
LONGEST_LIST = 60


class Call(msgspec.Struct, frozen=True, kw_only=True):
    """One site of a round with its lines; `visit` where it is planned."""

    site_no: int
    name: str
    address: str
    place: Place | None
    lines: tuple[Stands, ...]
    visit: visit_rows.Visit | None = None
    arrive_ms: int = 0
    leave_ms: int = 0
    drive_min: float = 0.0
    drive_km: float = 0.0

    @property
    def items(self) -> tuple[Item, ...]:
        """What a visit here needs."""
        return tuple(item for one in self.lines for item in one.items)


class Plan(msgspec.Struct, frozen=True, kw_only=True):
    """The day: the calls in order, those that did not fit, the way in all."""

    day: date
    calls: tuple[Call, ...]
    left_out: tuple[Call, ...]
    km: float
    back_ms: int
    start: Place | None
    kept: bool

    @property
    def items(self) -> list[Item]:
        """Everything the van needs, but for calls that are over."""
        return [i for call in self.calls if _is_ahead(call) for i in call.items]


def proposed(asked: Asked, day: date) -> Plan:
    """The round that the area, or the list of sites, asks for."""
    rounds = rounds_from(asked, day)
    listed = sites_listed(asked)
    if listed:
        rows = line_rows.every(asked.connection, asked.sight, Area(site_nos=tuple(listed)))
        lines = stand(asked, rows, rounds)
    else:
        lines = _gravest(asked, rounds)
    taken = {v.site_no for v in visit_rows.of_day(asked.connection, asked.sight, day.isoformat())}
    elsewhere = visit_rows.planned(asked.connection, asked.when.today.isoformat())
    gone = taken | (set() if listed else set(elsewhere))
    calls = [call for call in _calls(lines) if call.site_no not in gone]
    considered, later = calls[:MOST_CONSIDERED], calls[MOST_CONSIDERED:]
    start = _start(asked, considered)
    if start is None:
        return _placed(day, considered, None, None, later, kept=False)
    found = plan_round([_stop(call) for call in considered], _day(asked, day, start))
    return _placed(day, considered, found, start, later, kept=False)


def _gravest(asked: Asked, rounds: Rounds) -> list[Stands]:
    """Lines of the sites of the area that need somebody most; so many that some are left out."""
    found = [
        one for one in ranked(asked, area_of(asked.query), rounds) if wants_a_visit(asked, one)
    ]
    sites = list(dict.fromkeys(one.row.site_no for one in found))[: 3 * MOST_CONSIDERED]
    wanted = set(sites)
    return told(asked, [one for one in found if one.row.site_no in wanted])


def kept_plan(asked: Asked, day: date) -> Plan | None:
    """The round that was kept for a day; None where there is none."""
    visits = visit_rows.of_day(asked.connection, asked.sight, day.isoformat())
    if not visits:
        return None
    numbers = tuple(dict.fromkeys(visit.site_no for visit in visits))
    rows = line_rows.every(asked.connection, asked.sight, Area(site_nos=numbers))
    by_site = {call.site_no: call for call in _calls(stand(asked, rows, rounds_from(asked, day)))}
    calls = [_call_of(visit, by_site) for visit in visits]
    going = [call for call in calls if call.visit is not None and call.visit.state != "dropped"]
    dropped = [call for call in calls if call not in going]
    start = _start(asked, going)
    found = None
    if start is not None:
        stops = [_stop(call, place) for place, call in enumerate(going)]
        found = order_given(stops, _day(asked, day, start))
    return _placed(day, going, found, start, dropped, kept=True)


def rounds_from(asked: Asked, day: date) -> Rounds:
    """The rounds ahead, the chosen day being the next."""
    query = dict(asked.query) | {"next": day.isoformat()}
    return rounds_of(msgspec.structs.replace(asked, query=query))


def place_of(text: str) -> Place | None:
    """A place typed as "latitude, longitude" in degrees; None where it is none."""
    first, _, second = text.partition(",")
    try:
        latitude, longitude = float(first), float(second)
    except ValueError:
        return None
    sound = -90.0 <= latitude <= 90.0 and -180.0 <= longitude <= 180.0
    return Place(latitude=latitude, longitude=longitude) if sound else None


def place_words(place: Place | None) -> str:
    """A place as it is typed."""
    return "" if place is None else f"{place.latitude:.5f}, {place.longitude:.5f}"


def sites_listed(asked: Asked) -> list[int]:
    """The sites that are listed by name or identity; what is none of ours is passed over."""
    typed = [part.strip() for part in asked.query.get("sites", "").split(",")][:LONGEST_LIST]
    names = [name for name in typed if name]
    return site_rows.numbers_of(asked.connection, asked.sight, names) if names else []


def _calls(lines: Sequence[Stands]) -> list[Call]:
    """Lines by site, the site with the gravest line first."""
    by_site: dict[int, list[Stands]] = {}
    for one in lines:
        by_site.setdefault(one.row.site_no, []).append(one)
    return [_call(found) for found in by_site.values()]


def _call(lines: Sequence[Stands]) -> Call:
    row = lines[0].row
    place = None
    if row.latitude is not None and row.longitude is not None:
        place = Place(latitude=row.latitude, longitude=row.longitude)
    return Call(
        site_no=row.site_no,
        name=row.called,
        address=row.address,
        place=place,
        lines=tuple(lines),
    )


def _call_of(visit: visit_rows.Visit, by_site: dict[int, Call]) -> Call:
    found = by_site.get(visit.site_no)
    if found is None:  # a site without lines, or no longer adopted
        found = Call(
            site_no=visit.site_no, name=visit.name or visit.site, address="", place=None, lines=()
        )
    return msgspec.structs.replace(found, visit=visit)


def _stop(call: Call, place: int | None = None) -> Stop:
    risk = max((one.due.risk for one in call.lines), default=0.0)
    ended = max((one.due.now or 0.0 for one in call.lines), default=0.0)
    by = min((one.due.by_ms for one in call.lines if one.due.by_ms is not None), default=None)
    key = call.site_no if place is None else place
    return Stop(key=key, place=call.place, risk=risk, ended=ended, by_ms=by)


def _start(asked: Asked, calls: Sequence[Call]) -> Place | None:
    """Where the van starts: as typed, as remembered, else the middle of the sites."""
    typed = place_of(asked.query.get("from", ""))
    if typed is not None:
        return typed
    kept = place_of(asked.records.mark(asked.connection, START))
    known = [call.place for call in calls if call.place is not None]
    return kept or (middle_of(known) if known else None)


def _day(asked: Asked, day: date, start: Place) -> Day:
    return Day(start=start, start_ms=start_of(asked, day))


def _placed(
    day: date,
    calls: Sequence[Call],
    found: Round | None,
    start: Place | None,
    others: Sequence[Call],
    *,
    kept: bool,
) -> Plan:
    """Calls in the order that was found, each with its times; without any place in the order of
    their need."""
    if found is None:
        return Plan(day=day, calls=tuple(calls), left_out=tuple(others), km=0.0, back_ms=0,
                    start=start, kept=kept)  # fmt: skip
    by_key = dict(enumerate(calls)) if kept else {call.site_no: call for call in calls}
    timed = tuple(
        msgspec.structs.replace(
            by_key[visit.key],
            arrive_ms=visit.arrive_ms,
            leave_ms=visit.leave_ms,
            drive_min=visit.drive_min,
            drive_km=visit.drive_km,
        )
        for visit in found.visits
    )
    out = tuple(by_key[key] for key in found.left_out)
    return Plan(day=day, calls=timed, left_out=(*out, *others), km=found.km,
                back_ms=found.back_ms, start=start, kept=kept)  # fmt: skip


def _is_ahead(call: Call) -> bool:
    return call.visit is None or call.visit.state == "planned"
