"""What programs are told: the answers of the JSON API, version 1.

Instants are whole milliseconds of UTC since 1970, units stand in the names, and what is not known
is null. A reader passes over names it does not know; a change it could trip over gets a new version
in the address.
"""

from __future__ import annotations

from typing import Generic, TypeVar

import msgspec

T = TypeVar("T")


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


class Problem(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True):
    """What was wrong (RFC 9457): `title` names the sort, `detail` is for the person who asks."""

    title: str
    status: int
    detail: str = ""
