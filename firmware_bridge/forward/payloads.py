"""What goes over MQTT: topics and JSON payloads, version 1.

Below a prefix of the site file's choice ("lastlitre" unless told otherwise):

    <prefix>/v1/<site>/card                  retained  Card     who the site is
    <prefix>/v1/<site>/online                retained  Online   true; false is the will message
    <prefix>/v1/<site>/<line>/now            retained  Now      the newest of everything
    <prefix>/v1/<site>/<line>/readings                 Batch    as the meters gave them
    <prefix>/v1/<site>/<line>/draws                    Batch    one row a draw of water
    <prefix>/v1/<site>/<line>/estimates                Batch    litres and days left, with range
    <prefix>/v1/<site>/<line>/events                   Batch    what a person did or found
    <prefix>/v1/<site>/<line>/alarms                   Batch    one row a change of an alarm

Site and line are percent-encoded (RFC 3986), so that `/`, `+` and `#` in them do no harm; what
belongs to no line has "-" for its line. Everything is sent with QoS 1.

A payload is plain JSON (UTF-8). Times are whole milliseconds of UTC since 1970. Numbers carry their
unit in their name ("outlet_us_cm", "remaining_l_p50"); what was not measured is absent, never null.
A reader ignores names it does not know; a change it could trip over gets a new `v` and a new level
in the topic. A row may come more than once: (`site`, `seq`) tells it again. Rows of one topic come
oldest first; `seq` counts the rows of all topics together, so gaps within a topic mean nothing.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from urllib.parse import quote

import msgspec

from firmware_bridge.forward.sink import LineCard, SiteCard, is_text, why_unfit
from firmware_bridge.store.out_row import OutRow

VERSION = 1
NO_LINE = "-"
ROWS_A_MESSAGE = 60
TOPICS = {
    "reading": "readings",
    "draw": "draws",
    "estimate": "estimates",
    "event": "events",
    "alarm": "alarms",
}
"""The last level of a topic, by kind of row."""


class BatchRow(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True):
    """One row; `cartridge` is the cartridge that was fitted, where one is known."""

    seq: int
    at_ms: int
    cartridge: str = ""
    numbers: dict[str, float]
    words: dict[str, str] = {}


class Batch(msgspec.Struct, frozen=True, kw_only=True):
    """Up to 60 rows of one kind and line, `first` and `last` being the numbers of its ends."""

    v: int = VERSION
    site: str
    line: str
    kind: str
    first: int
    last: int
    rows: list[BatchRow]


class Card(msgspec.Struct, frozen=True, kw_only=True):
    """Who the site is."""

    v: int = VERSION
    site: str
    name: str
    service: str
    lines: tuple[LineCard, ...]


class Online(msgspec.Struct, frozen=True, kw_only=True):
    """Whether the site is connected."""

    v: int = VERSION
    site: str
    online: bool


class Now(msgspec.Struct, frozen=True, kw_only=True):
    """The newest row of each kind of one line; it overtakes rows that still wait.

    `newest` is by kind (reading, draw, estimate); `alarms` has the last change of each alarm by
    name. Both hold what was seen since the site last started and in the 2000 rows before that.
    """

    v: int = VERSION
    site: str
    line: str
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


def pack(rows: Sequence[OutRow], prefix: str, site_id: str) -> tuple[list[Message], dict[int, str]]:
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
    return [_message(batch, prefix, site_id) for batch in ordered], unfit


def card_message(card: SiteCard, prefix: str) -> Message:
    """The site's card, retained."""
    told = Card(site=card.site_id, name=card.name, service=card.service, lines=card.lines)
    return Message(topic=topic(prefix, card.site_id, "card"), payload=_json(told), retain=True)


def online_message(site_id: str, prefix: str, online: bool) -> Message:
    """The site's presence, retained."""
    told = Online(site=site_id, online=online)
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


def now_messages(newest: Newest, prefix: str, site_id: str) -> list[Message]:
    """One retained summary a line."""
    return [_now_message(line_id, kinds, prefix, site_id) for line_id, kinds in newest.items()]


def topic(prefix: str, *levels: str) -> str:
    """A topic below the prefix and version, each level percent-encoded."""
    return "/".join((prefix, f"v{VERSION}", *(quote(level, safe="") for level in levels)))


def _now_message(line_id: str, kinds: dict[str, OutRow], prefix: str, site_id: str) -> Message:
    told = Now(
        site=site_id,
        line=line_id,
        newest={kind: _row(row) for kind, row in kinds.items() if row.kind != "alarm"},
        alarms={row.words["alarm"]: _row(row) for row in kinds.values() if "alarm" in row.words},
    )
    where = topic(prefix, site_id, line_id or NO_LINE, "now")
    return Message(topic=where, payload=_json(told), retain=True)


def _message(batch: list[OutRow], prefix: str, site_id: str) -> Message:
    line_id, kind = batch[0].line_id, batch[0].kind
    told = Batch(
        site=site_id,
        line=line_id,
        kind=kind,
        first=batch[0].seq,
        last=batch[-1].seq,
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
