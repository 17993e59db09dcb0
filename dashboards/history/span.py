"""Which span of time is asked for: a name up to now, or two instants; and where to go from it."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime

import msgspec

from analytics.samples import DAY_MS, HOUR_MS, MINUTE_MS
from analytics.setup import LocalTime

NAMED = {
    "hour": HOUR_MS,
    "day": DAY_MS,
    "week": 7 * DAY_MS,
    "90-days": 90 * DAY_MS,
    "year": 365 * DAY_MS,
    "all": 0,
}
"""The spans with a name and their length; 0 is everything there is."""
USUAL = "90-days"
SHORTEST_MS = 10 * MINUTE_MS
LONGEST_MS = 20 * 365 * DAY_MS
STEP = 0.5
"""One step earlier or later moves by this part of the span."""
FACTOR = 3
"""Closer shows a third of the span, wider three times as much."""
STAMP = "%Y-%m-%dT%H:%M"


class Span(msgspec.Struct, frozen=True, kw_only=True):
    """[from_ms, to_ms). `name` is "" where two instants were asked for; `misread` names what in
    the address could not be understood."""

    from_ms: int
    to_ms: int
    name: str = ""
    misread: str = ""

    @property
    def length_ms(self) -> int:
        """How long it is."""
        return self.to_ms - self.from_ms


def asked_for(
    query: Mapping[str, str], local: LocalTime, now_ms: int, first_ms: int | None
) -> Span:
    """The span a query names; `first_ms` is the first row there is. What cannot be understood
    gives the usual span, with `misread` set."""
    if "from" in query or "to" in query:
        start, end = _instant(query.get("from"), local), _instant(query.get("to"), local)
        if start is not None and end is not None and end > start:
            return fitted(start, end, now_ms)
        given = " ".join(f"{k}={query[k]}" for k in ("from", "to") if k in query)
        return msgspec.structs.replace(named(USUAL, now_ms, first_ms), misread=given[:80])
    name = query.get("span", USUAL)
    if name not in NAMED:
        return msgspec.structs.replace(named(USUAL, now_ms, first_ms), misread=f"span={name}"[:80])
    return named(name, now_ms, first_ms)


def named(name: str, now_ms: int, first_ms: int | None) -> Span:
    """The span of this name that ends now, at the next whole minute."""
    to_ms = now_ms - now_ms % MINUTE_MS + MINUTE_MS
    length = NAMED[name]
    if not length:
        length = max(to_ms - (first_ms if first_ms is not None else to_ms), DAY_MS)
    return Span(from_ms=to_ms - length, to_ms=to_ms, name=name)


def fitted(from_ms: int, to_ms: int, now_ms: int) -> Span:
    """Two instants as a span that is neither too short nor too long and does not begin later than
    now."""
    length = min(max(to_ms - from_ms, SHORTEST_MS), LONGEST_MS)
    middle = (from_ms + to_ms) // 2
    start = min(middle - length // 2, now_ms + MINUTE_MS - length)
    start -= start % MINUTE_MS
    return Span(from_ms=start, to_ms=start + length)


def _instant(text: str | None, local: LocalTime) -> int | None:
    """Local date and time as an instant; None where it is none."""
    if text is None:
        return None
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        return None
    if moment.tzinfo is not None or not 1970 < moment.year < 2200:
        return None
    naive = round(moment.replace(tzinfo=UTC).timestamp() * 1000)
    return naive - local.offset_ms(naive - local.offset_ms(naive))


def stamp(local: LocalTime, at_ms: int) -> str:
    """An instant as the local date and time of an address, to the minute."""
    shifted = (at_ms + local.offset_ms(at_ms)) // 1000
    return datetime.fromtimestamp(shifted, tz=UTC).strftime(STAMP)


def query_of(span: Span, local: LocalTime) -> dict[str, str]:
    """The query that shows this span again, whatever time it is then."""
    return {"from": stamp(local, span.from_ms), "to": stamp(local, span.to_ms)}


def moves(span: Span, now_ms: int) -> dict[str, Span]:
    """Where one can go: earlier, later, closer, wider; only what differs from the span itself."""
    shift = round(span.length_ms * STEP)
    third = span.length_ms // FACTOR
    middle = (span.from_ms + span.to_ms) // 2
    there = {
        "earlier": fitted(span.from_ms - shift, span.to_ms - shift, now_ms),
        "later": fitted(span.from_ms + shift, span.to_ms + shift, now_ms),
        "closer": fitted(middle - third // 2, middle + third // 2, now_ms),
        "wider": fitted(span.from_ms - span.length_ms, span.to_ms + span.length_ms, now_ms),
    }
    same = (span.from_ms, span.to_ms)
    return {name: to for name, to in there.items() if (to.from_ms, to.to_ms) != same}
