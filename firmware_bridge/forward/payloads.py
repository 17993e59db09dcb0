"""What goes over MQTT: topics and JSON payloads, version 1.

The contract for readers is `SCHEMA.md` of this folder; its tables are made from the structs here.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Annotated
from urllib.parse import quote

import msgspec

from firmware_bridge.forward.sink import LineCard, Parcel, SiteCard, is_text, why_unfit
from firmware_bridge.store.out_row import OutRow

VERSION = 1
NO_LINE = "-"
ROWS_A_MESSAGE = 60
LARGEST_NUMBER = 2**53
"""Site numbers stay below it, so that every JSON reader can hold them exactly."""
TOPICS = {
    "reading": "readings",
    "draw": "draws",
    "estimate": "estimates",
    "event": "events",
    "alarm": "alarms",
}
"""The last level of a topic, by kind of row."""


Number = Annotated[int, msgspec.Meta(ge=0, lt=LARGEST_NUMBER)]
Instant = Annotated[int, msgspec.Meta(gt=-LARGEST_NUMBER, lt=LARGEST_NUMBER)]
Numbers = tuple[Number, Number]
"""Site numbers from the first to the last, both of them included."""


class BatchRow(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True, gc=False):
    """One row, known by its number in the site.

    `cartridge` is the cartridge that was fitted, where one is known. `revision` counts how often an
    estimate for this very instant was made before (late facts change what is known of the past).
    `numbers` have their unit in their name; `words` are texts.
    """

    # gc=False: a row cannot be part of a ring, and a receiver holds tens of thousands of them

    seq: Number
    at_ms: Instant
    cartridge: str = ""
    revision: int = 0
    numbers: dict[str, float]
    words: dict[str, str] = {}


class Batch(msgspec.Struct, frozen=True, kw_only=True):
    """Up to 60 rows of one kind and line, `first` and `last` being the numbers of its ends."""

    v: int = VERSION
    site: str
    line: str
    kind: str
    first: Number
    last: Number
    box: str = ""
    rows: list[BatchRow]


class Gone(msgspec.Struct, frozen=True, kw_only=True):
    """Numbers the site will never send: they aged out, were made void, or cannot be sent."""

    v: int = VERSION
    site: str
    box: str = ""
    spans: list[Numbers]


class Durable(msgspec.Struct, frozen=True, kw_only=True):
    """The receiver's word: it has every row up to this number for good, or knows it is gone.

    It may be lower than before, when the receiver's file was replaced by an older one: the site
    then sends again from there.
    """

    v: int = VERSION
    site: str
    up_to: Number


class Wanted(msgspec.Struct, frozen=True, kw_only=True):
    """The receiver's question: numbers it misses between others that it has."""

    v: int = VERSION
    site: str
    spans: Annotated[list[Numbers], msgspec.Meta(max_length=100)]


class Card(msgspec.Struct, frozen=True, kw_only=True):
    """Who the site is; `program` is the version of the software, `v` that of these payloads.

    `box` is the random id of the record the site writes, also in the other payloads: a second
    box that speaks under the same name has another one. `opening` holds the minutes of the day
    between which the place is open, Monday first, in `time_zone`.
    """

    v: int = VERSION
    site: str
    name: str
    service: str
    program: str = ""
    box: str = ""
    what: str = ""
    time_zone: str = "UTC"
    opening: tuple[tuple[int, int], ...] = ()
    lines: tuple[LineCard, ...]


class Online(msgspec.Struct, frozen=True, kw_only=True):
    """Whether the site is connected."""

    v: int = VERSION
    site: str
    online: bool
    box: str = ""


class Now(msgspec.Struct, frozen=True, kw_only=True):
    """The newest row of each kind of one line; it overtakes rows that still wait.

    `newest` is by kind (reading, draw, estimate); `alarms` has the last change of each alarm by
    name. Both hold what was seen since the site last started and in the 2000 rows before that.
    """

    v: int = VERSION
    site: str
    line: str
    box: str = ""
    newest: dict[str, BatchRow]
    alarms: dict[str, BatchRow]


class Message(msgspec.Struct, frozen=True, kw_only=True):
    """One publication; `rows` are the site numbers it carries."""

    topic: str
    payload: bytes
    retain: bool = False
    rows: tuple[int, ...] = ()


Newest = dict[str, dict[str, OutRow]]
"""By line, then by kind; alarms by "alarm " and their name."""


def pack(
    rows: Sequence[OutRow], prefix: str, site_id: str, box: str = ""
) -> tuple[list[Message], dict[int, str]]:
    """Rows as messages in the order of their first rows, and rows that cannot go, with reasons."""
    batches: dict[tuple[str, str], list[OutRow]] = {}
    full: list[list[OutRow]] = []
    unfit: dict[int, str] = {}
    for row in rows:
        if reason := _why_not(row):
            unfit[row.seq] = reason
            continue
        batch = batches.setdefault((row.line_id, row.kind), [])
        batch.append(row)
        if len(batch) == ROWS_A_MESSAGE:
            full.append(batches.pop((row.line_id, row.kind)))
    ordered = sorted([*full, *batches.values()], key=lambda batch: batch[0].seq)
    return [_message(batch, prefix, site_id, box) for batch in ordered], unfit


def card_message(card: SiteCard, prefix: str) -> Message:
    """The site's card, retained."""
    told = Card(
        site=card.site_id,
        name=card.name,
        service=card.service,
        program=card.program,
        box=card.box,
        what=card.what,
        time_zone=card.time_zone,
        opening=card.opening,
        lines=card.lines,
    )
    return Message(topic=topic(prefix, card.site_id, "card"), payload=_json(told), retain=True)


def void_numbers(parcel: Parcel, unfit: Iterable[int]) -> list[Numbers]:
    """The numbers of a parcel that no message carries, as spans."""
    left_out = set(unfit)
    spans: list[Numbers] = []
    before = parcel.after
    for row in parcel.rows:
        if row.seq in left_out:
            continue
        if row.seq > before + 1:
            spans.append((before + 1, row.seq - 1))
        before = row.seq
    if before < parcel.up_to:
        spans.append((before + 1, parcel.up_to))
    return spans


def gone_message(spans: Sequence[Numbers], prefix: str, site_id: str, box: str = "") -> Message:
    """Numbers that will never come."""
    told = Gone(site=site_id, box=box, spans=list(spans))
    return Message(topic=topic(prefix, site_id, "gone"), payload=_json(told))


def durable_message(site_id: str, prefix: str, up_to: int) -> Message:
    """The receiver's word, retained."""
    told = Durable(site=site_id, up_to=up_to)
    return Message(topic=topic(prefix, site_id, "durable"), payload=_json(told), retain=True)


def wanted_message(site_id: str, prefix: str, spans: Sequence[Numbers]) -> Message:
    """The receiver's question."""
    told = Wanted(site=site_id, spans=list(spans))
    return Message(topic=topic(prefix, site_id, "wanted"), payload=_json(told))


def online_message(site_id: str, prefix: str, online: bool, box: str = "") -> Message:
    """The site's presence, retained."""
    told = Online(site=site_id, online=online, box=box)
    return Message(topic=topic(prefix, site_id, "online"), payload=_json(told), retain=True)


def newest_of(known: Newest, rows: Iterable[OutRow]) -> Newest:
    """`known` with what is newer in `rows`."""
    newest = {line_id: dict(kinds) for line_id, kinds in known.items()}
    for row in rows:
        if row.kind == "event" or _why_not(row):
            continue
        kinds = newest.setdefault(row.line_id, {})
        name = f"alarm {row.words.get('alarm', '')}" if row.kind == "alarm" else row.kind
        if name not in kinds or kinds[name].seq < row.seq:
            kinds[name] = row
    return newest


def now_messages(newest: Newest, prefix: str, site_id: str, box: str = "") -> list[Message]:
    """One retained summary a line."""
    return [_now_message(line_id, kinds, prefix, site_id, box) for line_id, kinds in newest.items()]


def topic(prefix: str, *levels: str) -> str:
    """A topic below the prefix and version, each level percent-encoded."""
    return "/".join((prefix, f"v{VERSION}", *(quote(level, safe="") for level in levels)))


def _now_message(
    line_id: str, kinds: dict[str, OutRow], prefix: str, site_id: str, box: str
) -> Message:
    told = Now(
        site=site_id,
        line=line_id,
        box=box,
        newest={kind: _row(row) for kind, row in kinds.items() if row.kind != "alarm"},
        alarms={row.words["alarm"]: _row(row) for row in kinds.values() if "alarm" in row.words},
    )
    where = topic(prefix, site_id, line_id or NO_LINE, "now")
    return Message(topic=where, payload=_json(told), retain=True)


def _message(batch: list[OutRow], prefix: str, site_id: str, box: str) -> Message:
    line_id, kind = batch[0].line_id, batch[0].kind
    told = Batch(
        site=site_id,
        line=line_id,
        kind=kind,
        first=batch[0].seq,
        last=batch[-1].seq,
        box=box,
        rows=[_row(row) for row in batch],
    )
    return Message(
        topic=topic(prefix, site_id, line_id or NO_LINE, TOPICS[kind]),
        payload=_json(told),
        rows=tuple(row.seq for row in batch),
    )


def _row(row: OutRow) -> BatchRow:
    return BatchRow(
        seq=row.seq,
        at_ms=row.at_ms,
        cartridge=row.cartridge_id,
        revision=row.revision,
        numbers=row.numbers,
        words=row.words,
    )


def _why_not(row: OutRow) -> str:
    if row.kind not in TOPICS:
        return f"{row.kind!r} is a kind with no topic"
    if not is_text(row.line_id + row.cartridge_id):
        return "its line or cartridge is not readable text"
    return why_unfit(row)


def _json(told: msgspec.Struct) -> bytes:
    return msgspec.json.encode(told)
