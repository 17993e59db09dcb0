"""What goes over the wire: answers, questions and acts of the JSON API, version 1.

Instants are whole milliseconds of UTC since 1970, units stand in the names, and what is not known
is null. A reader passes over names it does not know; a change it could trip over gets a new version
in the address.
"""

from __future__ import annotations

from typing import Annotated, Generic, Literal, TypeVar

import msgspec
from msgspec import Meta

from firmware_bridge.fleet.identity.words import SIGNS

T = TypeVar("T")

MOST = 500
USUAL = 100
LARGEST = 2**53 - 1

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


class Page(msgspec.Struct, Generic[T], frozen=True, kw_only=True):
    """Some of a list. `next` given as `after` brings the following page; null: there is none."""

    items: list[T]
    next: str | None


class Me(msgspec.Struct, frozen=True, kw_only=True):
    """Whom this token speaks for. `customer_no`: only this customer's sites are seen."""

    role: str
    customer_no: int | None
    may_change: bool


class Site(msgspec.Struct, frozen=True, kw_only=True):
    """A site. `unknown`: nobody adopted it yet. `clock_ahead_ms`: its newest instant less ours."""

    site_no: int
    site: str
    name: str
    state: str
    service: str
    program: str
    region: str
    address: str
    latitude: float | None
    longitude: float | None
    customer: str | None
    online: bool | None
    first_heard_ms: int | None
    heard_ms: int | None
    clock_ahead_ms: int | None
    tags: tuple[str, ...]


class Line(msgspec.Struct, frozen=True, kw_only=True):
    """A line as it stood at `estimate_ms`: the 5th, 50th and 95th percentile of what is left."""

    line_no: int
    site_no: int
    site: str
    line: str
    state: str
    medium: str
    size: str
    capacity_mmol: float | None
    cartridge: str
    fitted_ms: int | None
    estimate_ms: int | None
    remaining_l_p05: float | None
    remaining_l_p50: float | None
    remaining_l_p95: float | None
    days_left_p05: float | None
    days_left_p50: float | None
    days_left_p95: float | None
    end_p05_ms: int | None
    end_p50_ms: int | None
    end_p95_ms: int | None
    outlet_hardness_mmol_l_p50: float | None
    raw_hardness_mmol_l_p50: float | None
    raw_alkalinity_meq_l_p50: float | None
    reading_ms: int | None
    draw_ms: int | None


class Alarm(msgspec.Struct, frozen=True, kw_only=True):
    """An alarm that is not normal now; `state` as ISA-18.2 names it, with hyphens."""

    site_no: int
    site: str
    line: str
    alarm: str
    state: str
    priority: str
    since_ms: int | None
    at_ms: int | None


class Doubt(msgspec.Struct, frozen=True, kw_only=True):
    """Data that contradict themselves or each other; an empty `line` is the whole site."""

    site_no: int
    site: str
    line: str
    doubt: str
    since_ms: int


class Cartridge(msgspec.Struct, frozen=True, kw_only=True):
    """A cartridge that serves or served.

    `delivered_mmol`: hardness taken up by its end, or, where `reached_end` is false, until it was
    taken out.
    """

    cartridge_no: int
    site_no: int
    site: str
    line: str
    cartridge: str
    medium: str
    size: str
    capacity_mmol: float | None
    fitted_ms: int
    removed_ms: int | None
    litres: float | None
    delivered_mmol_p05: float | None
    delivered_mmol_p50: float | None
    delivered_mmol_p95: float | None
    reached_end: bool


class Visit(msgspec.Struct, frozen=True, kw_only=True):
    """A stop of a round; an empty `line` is the whole site, `place` its order within the day."""

    visit_no: int
    site_no: int
    site: str
    line: str
    day: str
    state: str
    place: int
    note: str


class Event(msgspec.Struct, frozen=True, kw_only=True):
    """What a person did or found at the site. `who` is null where no name was given, or it was
    erased."""

    seq: int
    era: int
    line: str
    at_ms: int
    kind: str
    who: str | None
    numbers: dict[str, float]
    words: dict[str, str]


class Row(msgspec.Struct, frozen=True, kw_only=True):
    """A row as the site sent it; `numbers` have their unit in their name."""

    seq: int
    at_ms: int
    cartridge: str
    revision: int
    numbers: dict[str, float]
    words: dict[str, str]


class Due(msgspec.Struct, frozen=True, kw_only=True):
    """How a line stands for the next round and the one after, the gravest first.

    `need` is act, due, doubt, silent or right; `by_ms` the instant from which an end is likelier
    than 5 in 100. A chance is that of an end before the round, `low` and `high` what it may be
    given what a silence hides; null: nothing is known.
    """

    line_no: int
    site_no: int
    site: str
    line: str
    need: str
    risk: float
    by_ms: int | None
    chance_by_next: float | None
    chance_by_next_low: float | None
    chance_by_next_high: float | None
    chance_by_after: float | None
    chance_by_after_low: float | None
    chance_by_after_high: float | None
    ends_by: str
    alarm: str
    doubts: tuple[str, ...]
    heard_ms: int | None


class Part(msgspec.Struct, frozen=True, kw_only=True):
    """Cartridges of one medium and size that the next weeks take. `unknown` of the `lines` are not
    in it: nothing is known of their end."""

    medium: str
    size: str
    lines: int
    unknown: int
    mean: float
    count_p05: int
    count_p50: int
    count_p95: int


class Parts(msgspec.Struct, frozen=True, kw_only=True):
    """By medium and size."""

    items: list[Part]


class Prior(msgspec.Struct, frozen=True, kw_only=True):
    """What a new cartridge of one kind is expected to deliver in a raw-water region, as a share of
    its rated capacity; an empty region is any in which nobody has served yet."""

    medium: str
    size: str
    region: str
    rated_mmol: float
    share_p05: float
    share_p50: float
    share_p95: float
    ended: int
    taken_early: int
    stated_capacity_mmol: float
    stated_spread: float


class Priors(msgspec.Struct, frozen=True, kw_only=True):
    """`cartridges` told something, `left_out` nothing."""

    items: list[Prior]
    cartridges: int
    left_out: int


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


class Problem(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True):
    """What was wrong (RFC 9457): `title` names the sort, `detail` is for the person who asks."""

    title: str
    status: int
    detail: str = ""
