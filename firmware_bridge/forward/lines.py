"""Rows as line protocol: `measurement,tag=text name=number milliseconds`.

    reading,site=harbour-steps,line=bar outlet_us_cm=412.5,outlet_temp_c=19.25 1767225600000

Written by hand because formatting a text is eight times cheaper than building the client's own
point objects. The stores that take this protocol differ, and some drop in silence what they do not
like, so what would not arrive as it is meant is refused here, with the reason:

- Numbers are floats only: text fields are stored as 0 by some stores, and a field that is an
  integer once and a float later is refused by others.
- Comma, space and equals sign are escaped by a backslash in tags and names (InfluxDB line protocol
  reference). A backslash in the text itself is refused: stores differ on what it then means.
- Names must not begin with `_`; an empty tag is left out.
- An instant before the year 2000 or more than a day ahead is refused: the clock was not set.

Words go no further than two tags of an alarm, which are from a fixed list.

An estimate made again for the same instant (a late fact changes what is known of the past) must not
meet the first one in one series: some stores keep the later of two values, some the larger, some
both. The first is in `estimate`, as it was shown at the time; the next ones are in
`estimate_revised` with the tag `revision` (1, 2, ...), each with `known_at_ms` among its numbers.
What holds now at an instant is the highest revision there is of it, else `estimate`.
"""

from __future__ import annotations

from functools import lru_cache

from analytics.errors import SinkError
from analytics.samples import DAY_MS
from firmware_bridge.forward.sink import is_text, why_unfit
from firmware_bridge.store.out_row import OutRow

MEASUREMENTS = frozenset(("reading", "draw", "estimate", "alarm"))
"""Kinds with a measurement of the same name. An event is text and has none."""

EARLIEST_MS = 946_684_800_000
"""The first instant of the year 2000."""

_ESCAPES = str.maketrans({",": "\\,", " ": "\\ ", "=": "\\="})


def line_of(row: OutRow, site_id: str, now_ms: int) -> str:
    """One row as one line without its end; empty where this protocol has no place for the row.

    Raises SinkError with the reason where the row cannot be carried faithfully.
    """
    if row.kind == "event":
        return ""
    _refuse_unfit(row, now_ms)
    fields = ",".join([f"{_name(name)}={float(n)!r}" for name, n in row.numbers.items()])
    if row.revision:
        tag = ("revision", str(row.revision))
        head = _head(f"{row.kind}_revised", site_id, row.line_id, tag)
    elif row.kind == "alarm":
        head = _head("alarm", site_id, row.line_id, *_alarm_tags(row))
        fields = f"changes=1.0,{fields}" if fields else "changes=1.0"
    else:
        head = _head(row.kind, site_id, row.line_id)
    return f"{head} {fields} {row.at_ms}" if fields else ""


def check_line(site_id: str, now_ms: int) -> str:
    """A line that every store takes: it tells a bad row from a store that refuses everything."""
    return f"{_head('sink_check', site_id, '')} answers=1.0 {now_ms}"


def _refuse_unfit(row: OutRow, now_ms: int) -> None:
    if row.kind not in MEASUREMENTS:
        raise SinkError(f"{row.kind!r} is a kind with no measurement", retryable=False)
    if reason := why_unfit(row):
        raise SinkError(reason, retryable=False)
    if row.at_ms < EARLIEST_MS:
        raise SinkError("its time is before the year 2000: the clock was not set", retryable=False)
    if row.at_ms > now_ms + DAY_MS:
        raise SinkError("its time is more than a day ahead of this clock", retryable=False)


def _alarm_tags(row: OutRow) -> tuple[tuple[str, str], ...]:
    return tuple((name, row.words.get(name, "")) for name in ("alarm", "change"))


@lru_cache(maxsize=1024)
def _head(kind: str, site_id: str, line_id: str, *more: tuple[str, str]) -> str:
    tags = (("site", site_id), ("line", line_id), *more)
    return ",".join([kind, *(f"{name}={_escaped(text)}" for name, text in tags if text)])


@lru_cache(maxsize=1024)
def _name(name: str) -> str:
    if not name or name.startswith("_"):
        raise SinkError(f"{name!r} cannot be the name of a number", retryable=False)
    return _escaped(name)


def _escaped(text: str) -> str:
    if "\\" in text or any(sign < " " for sign in text) or not is_text(text):
        raise SinkError(f"{text!r} has a sign that cannot be written", retryable=False)
    return text.translate(_ESCAPES)
