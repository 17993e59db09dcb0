"""Whether the place is open, by its usual hours."""

from __future__ import annotations

from analytics.samples import MINUTE_MS
from analytics.setup import Closures, LocalTime, Opening

DAY_MIN = 1440


def is_open(opening: Opening, local: LocalTime, at_ms: int, margin_min: int = 0) -> bool:
    """Whether an instant lies in opening hours made longer at both ends by a margin (below 0:
    shorter)."""
    weekday, hour = local.weekday_and_hour(at_ms)
    minute = hour * 60 + (at_ms + local.offset_ms(at_ms)) // MINUTE_MS % 60
    for day in (-1, 0, 1):
        opens, closes = opening[(weekday + day) % 7]
        if closes > opens and opens - margin_min <= minute - day * DAY_MIN < closes + margin_min:
            return True
    return False


def never_shuts(opening: Opening) -> bool:
    """Whether no day has an hour of rest."""
    return all(closes - opens >= DAY_MIN for opens, closes in opening)


def opens_on(opening: Opening, closures: Closures, weekday: int, noon_ms: int) -> bool:
    """Whether the place opens on a day: by its hours, and not in a closure at that day's noon."""
    begin, end = opening[weekday]
    return end > begin and not any(first <= noon_ms < until for first, until in closures)


def open_minutes(opening: Opening, weekday: int, first: int, last: int) -> int:
    """Open minutes between two minutes of a weekday, those of a night before included."""

    def within(begin: int, end: int) -> int:
        return max(min(last, end) - max(first, begin), 0)

    begin, end = opening[weekday]
    before, after = opening[(weekday - 1) % 7]
    late = max(after - DAY_MIN, 0) if after > before else 0
    today = within(max(begin, late), min(end, DAY_MIN)) if end > begin else 0
    return today + within(0, late)
