"""A day's round: which stops fit, in which order, when the van is where.

Stops are taken gravest first, each put in where it costs least (cheapest insertion; Rosenkrantz,
Stearns and Lewis, SIAM J. Comput. 6 (1977) 563), then the order is bettered by turning stretches
round (2-opt; Croes, Oper. Res. 6 (1958) 791) and by moving single stops. What an order costs is
the time of the day, and the waiting of those that have run out: their machines take harm meanwhile.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final, NamedTuple

import msgspec

from analytics.fleet.distance import Place, Travel, distances_km, drive_minutes, middle_of
from analytics.samples import MINUTE_MS

WAIT: Final = 0.3
"""Minutes of driving that an hour less of waiting is worth, per minute, at a site that has surely
run out (our own choice: an hour sooner is worth 18 minutes of way)."""
MOST_PASSES: Final = 40


class Stop(msgspec.Struct, frozen=True, kw_only=True):
    """A site to go to. `risk` decides who is taken first, `ended` (chance that it has run out) who
    is not to wait. A site whose place is not known is put at the middle of the others."""

    key: int
    place: Place | None = None
    risk: float = 0.0
    ended: float = 0.0
    by_ms: int | None = None
    service_min: float = 25.0


class Day(msgspec.Struct, frozen=True, kw_only=True):
    """A van's day: from where, from when, and how many minutes until it must be back."""

    start: Place
    start_ms: int
    minutes: float = 480.0
    travel: Travel = Travel()


class Visit(msgspec.Struct, frozen=True, kw_only=True):
    """One stop in its place; `drive_km` is the straight way to it from the stop before, `placed`
    that its place is known."""

    key: int
    arrive_ms: int
    leave_ms: int
    drive_km: float
    drive_min: float
    placed: bool


class Round(msgspec.Struct, frozen=True, kw_only=True):
    """The day in order; `left_out` are the keys of stops that did not fit, gravest first."""

    visits: tuple[Visit, ...]
    back_ms: int
    km: float
    drive_min: float
    left_out: tuple[int, ...]


def plan_round(stops: Sequence[Stop], day: Day) -> Round:
    """The day's round through as many stops as fit; the gravest are taken first."""
    wanted = sorted(stops, key=lambda s: (-s.risk, s.by_ms or float("inf"), s.key))
    ways = _ways(wanted, day)
    order: list[int] = []
    left_out: list[int] = []
    for number in range(len(wanted)):
        tried = _put_in(order, number, ways)
        if _length(tried, ways) > day.minutes:
            tried = _bettered(tried, ways)
        if _length(tried, ways) <= day.minutes:
            order = tried
        else:
            left_out.append(wanted[number].key)
    better = _bettered(order, ways)
    if _length(better, ways) <= day.minutes:
        order = better
    return _timed(order, wanted, ways, day, tuple(left_out))


def order_given(stops: Sequence[Stop], day: Day) -> Round:
    """The day in the order a person has chosen, timed."""
    return _timed(list(range(len(stops))), stops, _ways(stops, day), day, ())


class _Ways(NamedTuple):
    """Minutes and straight kilometres between stops; the last row and column are the start."""

    minutes: list[list[float]]
    km: list[list[float]]
    service: list[float]
    ended: list[float]


def _ways(stops: Sequence[Stop], day: Day) -> _Ways:
    known = [stop.place for stop in stops if stop.place is not None]
    middle = middle_of(known) if known else day.start
    places = [stop.place or middle for stop in stops] + [day.start]
    km = distances_km(places, places)
    return _Ways(
        drive_minutes(km, day.travel).tolist(),
        km.tolist(),
        [stop.service_min for stop in stops],
        [stop.ended for stop in stops],
    )


def _length(order: Sequence[int], ways: _Ways) -> float:
    """Minutes until the van is back."""
    at, total = -1, 0.0
    for stop in order:
        total += ways.minutes[at][stop] + ways.service[stop]
        at = stop
    return total + (ways.minutes[at][-1] if order else 0.0)


def _cost(order: Sequence[int], ways: _Ways) -> float:
    """Minutes until the van is back, and what the waiting of those that have run out weighs."""
    at, total, waited = -1, 0.0, 0.0
    for stop in order:
        total += ways.minutes[at][stop]
        waited += ways.ended[stop] * total
        total += ways.service[stop]
        at = stop
    return total + (ways.minutes[at][-1] if order else 0.0) + WAIT * waited


def _put_in(order: list[int], stop: int, ways: _Ways) -> list[int]:
    tried = [[*order[:place], stop, *order[place:]] for place in range(len(order) + 1)]
    return min(tried, key=lambda each: _cost(each, ways))


def _bettered(order: list[int], ways: _Ways) -> list[int]:
    """Stretches turned round and single stops moved, until nothing gets better."""
    best, cost = order, _cost(order, ways)
    for _ in range(MOST_PASSES):
        found = min(_neighbours(best), key=lambda each: _cost(each, ways), default=best)
        if (new := _cost(found, ways)) >= cost - 1e-9:
            break
        best, cost = found, new
    return best


def _neighbours(order: list[int]) -> list[list[int]]:
    count = len(order)
    turned = [
        [*order[:i], *reversed(order[i : j + 1]), *order[j + 1 :]]
        for i in range(count)
        for j in range(i + 1, count)
    ]
    moved = [_moved(order, i, j) for i in range(count) for j in range(count) if j not in (i, i - 1)]
    return turned + moved


def _moved(order: list[int], taken: int, to: int) -> list[int]:
    rest = [*order[:taken], *order[taken + 1 :]]
    return [*rest[:to], order[taken], *rest[to:]]


def _timed(
    order: Sequence[int],
    stops: Sequence[Stop],
    ways: _Ways,
    day: Day,
    left_out: tuple[int, ...],
) -> Round:
    visits: list[Visit] = []
    at, minutes = -1, 0.0
    for place in order:
        minutes += ways.minutes[at][place]
        arrive = day.start_ms + round(minutes * MINUTE_MS)
        drive, km = ways.minutes[at][place], ways.km[at][place]
        minutes += ways.service[place]
        visits.append(
            Visit(
                key=stops[place].key,
                arrive_ms=arrive,
                leave_ms=day.start_ms + round(minutes * MINUTE_MS),
                drive_km=km,
                drive_min=drive,
                placed=stops[place].place is not None,
            )
        )
        at = place
    home, home_km = (ways.minutes[at][-1], ways.km[at][-1]) if order else (0.0, 0.0)
    return Round(
        visits=tuple(visits),
        back_ms=day.start_ms + round((minutes + home) * MINUTE_MS),
        km=sum(visit.drive_km for visit in visits) + home_km,
        drive_min=sum(visit.drive_min for visit in visits) + home,
        left_out=left_out,
    )
