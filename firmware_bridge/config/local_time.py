"""The site's time zone, and its clock changes as plain numbers for the core."""

from __future__ import annotations

import datetime as dt
import re
import zoneinfo

from analytics.setup import LocalTime
from firmware_bridge.config.fault import Refused, nearest
from firmware_bridge.config.readers import Place

EPOCH = dt.datetime(1970, 1, 1, tzinfo=dt.UTC)
OFFSET = re.compile(r"UTC([+-])(\d{2}):(\d{2})")
YEARS_AHEAD = 30
SANE_YEAR = 2030
"""A box without a clock compiles in 1970; its table of clock changes must still reach far."""


def time_zone(value: object, place: Place) -> str:
    """The name of a time zone that is known here."""
    allowed = 'an IANA name such as "Europe/Berlin", or an offset such as "UTC+05:30"'
    if not isinstance(value, str):
        raise Refused("not a time zone", allowed)
    try:
        zone_of(value)
    except (zoneinfo.ZoneInfoNotFoundError, ValueError, OSError) as exc:
        mend = nearest(value, zoneinfo.available_timezones())
        raise Refused("no such time zone", allowed, mend) from exc
    return value


def zone_of(name: str) -> dt.tzinfo:
    """The zone of an IANA name or of a text such as "UTC+05:30".

    Raises ValueError or ZoneInfoNotFoundError.
    """
    fixed = OFFSET.fullmatch(name)
    if fixed is None:
        return zoneinfo.ZoneInfo(name)
    sign = -1 if fixed[1] == "-" else 1
    return dt.timezone(sign * dt.timedelta(hours=int(fixed[2]), minutes=int(fixed[3])))


def local_time(name: str, now: dt.datetime) -> LocalTime:
    """The zone's clock changes from 1970 to thirty years from now."""
    zone = zone_of(name)
    end = max(now.year, SANE_YEAR) + YEARS_AHEAD
    days = (dt.datetime(end, 1, 1, tzinfo=dt.UTC) - EPOCH).days
    from_s, offset_s = [0], [_offset_s(zone, 0)]
    for day in range(1, days + 1):
        if _offset_s(zone, day * 86_400) != offset_s[-1]:
            change = _change(zone, (day - 1) * 86_400, day * 86_400)
            from_s.append(change)
            offset_s.append(_offset_s(zone, change))
    return LocalTime(from_ms=tuple(s * 1000 for s in from_s), offset_s=tuple(offset_s))


def _change(zone: dt.tzinfo, before_s: int, after_s: int) -> int:
    """The second at which the offset of `before_s` ends, by halving."""
    old = _offset_s(zone, before_s)
    while after_s - before_s > 1:
        middle = (before_s + after_s) // 2
        if _offset_s(zone, middle) == old:
            before_s = middle
        else:
            after_s = middle
    return after_s


def _offset_s(zone: dt.tzinfo, at_s: int) -> int:
    offset = (EPOCH + dt.timedelta(seconds=at_s)).astimezone(zone).utcoffset()
    return round(offset.total_seconds()) if offset is not None else 0
