"""What programs ask for and enter: the queries and bodies of the JSON API, version 1."""

from __future__ import annotations

from typing import Annotated, Literal

import msgspec
from msgspec import Meta

from firmware_bridge.fleet.identity.words import SIGNS

LARGEST = 2**53 - 1
"""The largest whole number that every JSON reader holds exactly."""
MOST = 500
USUAL = 100

Number = Annotated[int, Meta(ge=1, le=LARGEST)]
Instant = Annotated[int, Meta(ge=0, le=LARGEST)]
Limit = Annotated[int, Meta(ge=1, le=MOST)]
Text = Annotated[str, Meta(max_length=200, pattern=SIGNS)]
Note = Annotated[str, Meta(max_length=500, pattern=SIGNS)]
Cursor = Annotated[str, Meta(min_length=1, max_length=400, pattern="^[A-Za-z0-9_-]+$")]
Day = Annotated[str, Meta(pattern=r"^[0-9]{4}-(0[1-9]|1[0-2])-(0[1-9]|[12][0-9]|3[01])$")]
TAG = r"^[^\u0000-\u0020\u007f,]+( [^\u0000-\u0020\u007f,]+)*$"
"""Words with a space between, without a comma."""
Tag = Annotated[str, Meta(min_length=1, max_length=40, pattern=TAG)]

VisitState = Literal["planned", "done", "dropped"]
SiteState = Literal["unknown", "adopted", "retired"]


class DueAsked(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """`next_ms` is when the next round can start (left out: in a day), `every_days` how long after
    it the one after is."""

    next_ms: Instant | None = None
    every_days: Annotated[int, Meta(ge=1, le=60)] = 7
    region: Text = ""
    tag: Text = ""
    limit: Limit = USUAL
    after: Cursor | None = None


class PartsAsked(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """For how many weeks, and for which lines."""

    weeks: Annotated[int, Meta(ge=1, le=52)] = 6
    region: Text = ""
    tag: Text = ""


class SitesAsked(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """`text` stands in name, id, address or customer."""

    text: Text | None = None
    state: SiteState | None = None
    region: Text | None = None
    tag: Text | None = None
    site: Text | None = None
    limit: Limit = USUAL
    after: Cursor | None = None


class LinesAsked(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """`ends_before_ms`: likelier than not."""

    site_no: Number | None = None
    medium: Text | None = None
    size: Text | None = None
    ends_before_ms: Instant | None = None
    limit: Limit = USUAL
    after: Cursor | None = None


class AlarmsAsked(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Which alarms."""

    site_no: Number | None = None
    priority: Text | None = None
    state: Text | None = None
    limit: Limit = USUAL
    after: Cursor | None = None


class DoubtsAsked(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Which doubts."""

    site_no: Number | None = None
    limit: Limit = USUAL
    after: Cursor | None = None


class CartridgesAsked(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Which cartridges."""

    site_no: Number | None = None
    medium: Text | None = None
    size: Text | None = None
    reached_end: bool | None = None
    limit: Limit = USUAL
    after: Cursor | None = None


class VisitsAsked(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Days are ISO dates in the service company's time zone; both ends count."""

    site_no: Number | None = None
    state: VisitState | None = None
    from_day: Day | None = None
    to_day: Day | None = None
    limit: Limit = USUAL
    after: Cursor | None = None


class EventsAsked(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A span of instants; both ends count."""

    line: Text | None = None
    from_ms: Instant | None = None
    to_ms: Instant | None = None
    limit: Limit = USUAL
    after: Cursor | None = None


class RowsAsked(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Rows of one kind and line within a span, both ends counted. They come about in the order in
    which they arrived, which is not always that of time."""

    kind: Literal["reading", "draw", "estimate", "alarm"]
    line: Text = ""
    from_ms: Instant = 0
    to_ms: Instant = LARGEST
    limit: Annotated[int, Meta(ge=1, le=5000)] = 1000
    after: Cursor | None = None


class Tags(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """The tags of a site: these and no others."""

    tags: Annotated[list[Tag], Meta(max_length=20)]


class NewVisit(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A stop to be planned, at the end of its day."""

    site_no: Number
    day: Day
    line: Text = ""
    note: Note = ""


class VisitChange(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """How a stop went."""

    state: VisitState
    note: Note = ""
