"""Whether the place is open, by its usual hours."""

from __future__ import annotations

from analytics.samples import MINUTE_MS
from analytics.setup import LocalTime, Opening

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
