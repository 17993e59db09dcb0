"""What ends a cartridge first: its capacity, its time limit, or the life of its carbon."""

from __future__ import annotations

from typing import Final

import msgspec

from analytics.samples import DAY_MS, Spread
from analytics.setup import Closures, LineSetup, LocalTime
from analytics.usage import Usage, days_until, forecast

MOST_DAYS: Final = 730.0
COUNT_SD: Final = 0.03
"""Error of the litres counted since the cartridge was fitted, relative (common practice)."""
Z95: Final = 1.6449


class End(msgspec.Struct, frozen=True, kw_only=True):
    """The earliest end: days from now and instant, each with its range, and what brings it.

    `by` is capacity, time or carbon; unknown where none of them is known.
    """

    days: Spread | None = None
    at_ms: Spread | None = None
    by: str = "unknown"


def first_end(
    line: LineSetup,
    local: LocalTime,
    usage: Usage,
    remaining: Spread | None,
    carbon_left_l: float | None,
    limit_ms: int | None,
    at_ms: int,
    shut: Closures,
) -> End:
    """The end that is likely to come first; the range is that of whichever comes first."""
    ahead = forecast(usage, line)

    def until(litres: Spread) -> Spread | None:
        return days_until(ahead, usage, litres, at_ms, local, MOST_DAYS, line.opening, shut)

    ends: list[tuple[str, Spread]] = []
    if remaining is not None and (days := until(remaining)) is not None:
        ends.append(("capacity", days))
    if carbon_left_l is not None and (days := until(_carbon(line, carbon_left_l))) is not None:
        ends.append(("carbon", days))
    if limit_ms is not None:
        left = (limit_ms - at_ms) / DAY_MS
        ends.append(("time", Spread(p50=left, p05=left, p95=left)))
    if not ends:
        return End()
    by, first = min(ends, key=lambda end: end[1].p50)
    days = Spread(
        p50=first.p50,
        p05=min(end.p05 for _, end in ends),
        p95=min(end.p95 for _, end in ends),
    )
    return End(days=_from_now(days), at_ms=_dates(days, at_ms), by=by)


def time_limit_ms(line: LineSetup, fitted_ms: int) -> int | None:
    """When the cartridge is as old as it may get; None where no limit or no beginning is known."""
    if line.time_limit_days is None or not fitted_ms:
        return None
    return fitted_ms + round(line.time_limit_days * DAY_MS)


def _carbon(line: LineSetup, left_l: float) -> Spread:
    """Litres left in the carbon, with the error of those counted."""
    off = Z95 * COUNT_SD * max((line.carbon_l or 0.0) - left_l, 0.0)
    middle = max(left_l, 0.0)
    return Spread(p50=middle, p05=max(left_l - off, 0.0), p95=max(left_l + off, middle))


def _from_now(days: Spread) -> Spread:
    p05, p50, p95 = (max(d, 0.0) for d in (days.p05, days.p50, days.p95))
    return Spread(p05=p05, p50=p50, p95=p95)


def _dates(days: Spread, at_ms: int) -> Spread:
    p05, p50, p95 = (at_ms + d * DAY_MS for d in (days.p05, days.p50, days.p95))
    return Spread(p05=p05, p50=p50, p95=p95)
