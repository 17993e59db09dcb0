"""Messages of sites sorted by site, each read strictly; what cannot be read, with the reason.

Nothing here knows what is held already; that is decided under the site's lock.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from typing import Any
from urllib.parse import unquote

import msgspec

from firmware_bridge.forward.payloads import (
    VERSION,
    Batch,
    BatchRow,
    Card,
    Gone,
    Now,
    Number,
    Online,
)
from firmware_bridge.receiver.words import Incoming, understood

LONGEST_NAME = 200
"""Characters of the name of a site or line."""
LONGEST_AHEAD = 10_000_000_000
"""A number may be so far above the highest one held (a site passes over a thousand million where
it lost count); beyond that it is nonsense."""

NEWER = "newer: "
"""What a reason begins with where a newer version of this program may understand the message."""


class Refused(msgspec.Struct, frozen=True):
    """A message, or a row of one, that is put aside."""

    site: str
    topic: str
    reason: str
    payload: bytes


class Rows(msgspec.Struct):
    """Rows of one line and kind as one message brought them; `text` is their JSON list."""

    line: str
    kind: str
    box: str
    topic: str
    rows: list[BatchRow]
    text: bytes


class Heard(msgspec.Struct):
    """Everything that came from one site, in the order of its coming."""

    site: str
    batches: list[Rows] = []
    gone: list[Gone] = []
    nows: dict[str, Now] = {}
    card: Card | None = None
    card_text: str = ""
    online: Online | None = None
    messages: int = 0
    refused: list[Refused] = []
    let_go: list[int] = []
    """Numbers of rows that were put aside: they need not come again."""
    newest_ms: int | None = None
    same: set[str] = set()
    """Lines whose summary has the estimate and alarms of the one before."""

    @property
    def speaks(self) -> bool:
        """Whether anything of it was understood; only then is it a site."""
        told = (self.batches, self.gone, self.nows, self.card, self.online)
        return any(part is not None and part != {} and part != [] for part in told)


class _Sent(msgspec.Struct):
    """A batch of which only the outermost parts are read."""

    rows: msgspec.Raw


class _Salvage(msgspec.Struct):
    site: str
    line: str
    kind: str
    rows: list[msgspec.Raw]
    v: int = VERSION
    box: str = ""


class _Numbered(msgspec.Struct):
    seq: Number


class _Version(msgspec.Struct):
    v: int


_sent = msgspec.json.Decoder(_Sent)
_salvage = msgspec.json.Decoder(_Salvage)
_row = msgspec.json.Decoder(BatchRow)
_numbered = msgspec.json.Decoder(_Numbered)
_version = msgspec.json.Decoder(_Version)


def sorted_by_site(messages: Sequence[Incoming], prefix: str) -> dict[str, Heard]:
    """What the messages say, by site; words of receivers are passed over."""
    found: dict[str, Heard] = {}
    for message in messages:
        site = site_of(message.topic, prefix)
        heard = found.get(site)
        if heard is None:
            heard = found[site] = Heard(site)
        heard.messages += 1
        try:
            said = understood(message, prefix)
            _unusable(said)
        except ValueError as exc:
            _not_understood(heard, message, prefix, str(exc))
            continue
        if said is not None:
            _note(heard, message, said)
    return found


@lru_cache(maxsize=65_536)
def site_of(topic: str, prefix: str) -> str:
    """The site a topic belongs to; empty where it is none of ours, or no name for a site."""
    levels = topic[len(prefix) + 1 :].split("/", 2)
    site = unquote(levels[1]) if len(levels) == 3 else ""
    return site if len(site) <= LONGEST_NAME and site.isprintable() else ""


def _unusable(said: Any) -> None:
    """Raises ValueError for names no database or page could show."""
    for name in (getattr(said, "site", ""), getattr(said, "line", ""), getattr(said, "box", "")):
        if len(name) > LONGEST_NAME or not name.isprintable():
            raise ValueError(f"a name in it is too long or has control characters: {name[:40]!r}")


def _note(heard: Heard, message: Incoming, said: Any) -> None:
    if isinstance(said, Batch):
        text = bytes(_sent.decode(message.payload).rows)
        _add(heard, Rows(said.line, said.kind, said.box, message.topic, said.rows, text))
    elif isinstance(said, Now):
        heard.nows[said.line] = said
    elif isinstance(said, Gone):
        heard.gone.append(said)
    elif isinstance(said, Card):
        heard.card, heard.card_text = said, message.payload.decode()
    else:
        heard.online = said


def _add(heard: Heard, rows: Rows) -> None:
    heard.batches.append(rows)
    newest = rows.rows[-1].at_ms
    heard.newest_ms = newest if heard.newest_ms is None else max(newest, heard.newest_ms)


def _not_understood(heard: Heard, message: Incoming, prefix: str, why: str) -> None:
    """Put a message aside; where only some rows of a batch are bad, only those."""
    if newer := _from_a_newer(message, prefix):
        heard.refused.append(Refused(heard.site, message.topic, newer, message.payload))
        return
    good, bad, let_go = _salvaged(message, prefix)
    if good is None:
        heard.refused.append(Refused(heard.site, message.topic, why, message.payload))
        return
    heard.refused += bad
    heard.let_go += let_go
    if good.rows:
        _add(heard, good)


def not_newer(message: Incoming, prefix: str) -> bool:
    """Whether this program is new enough for a message."""
    return not _from_a_newer(message, prefix)


def _from_a_newer(message: Incoming, prefix: str) -> str:
    """Why a newer version of this program may be needed; empty where none would help."""
    level = message.topic[len(prefix) + 1 :].split("/", 1)[0]
    if level[:1] == "v" and level[1:].isdigit() and int(level[1:]) > VERSION:
        return f"{NEWER}its topic is of version {level[1:]}, not {VERSION}"
    try:
        found = _version.decode(message.payload).v
    except (msgspec.MsgspecError, RecursionError, UnicodeDecodeError):
        return ""
    return f"{NEWER}it is of version {found}, not {VERSION}" if found > VERSION else ""


def _salvaged(message: Incoming, prefix: str) -> tuple[Rows | None, list[Refused], list[int]]:
    """The good rows of a batch with bad ones, the bad ones, and the numbers of these."""
    try:
        whole = _salvage.decode(message.payload)
    except (msgspec.MsgspecError, RecursionError, UnicodeDecodeError):
        return None, [], []
    rows, bad, let_go = list[BatchRow](), list[Refused](), list[int]()
    for raw in whole.rows:
        try:
            rows.append(_row.decode(raw))
        except (msgspec.MsgspecError, RecursionError, UnicodeDecodeError) as exc:
            try:
                let_go.append(_numbered.decode(raw).seq)
            except (msgspec.MsgspecError, RecursionError, UnicodeDecodeError):
                return None, [], []
            bad.append(Refused(whole.site, message.topic, f"row {let_go[-1]}: {exc}", bytes(raw)))
    ordered = sorted({row.seq: row for row in rows}.values(), key=lambda row: row.seq)
    if not bad or len(ordered) < len(rows):
        return None, [], []
    return _checked(whole, message, prefix, ordered, bad), bad, let_go


def _checked(
    whole: _Salvage, message: Incoming, prefix: str, rows: list[BatchRow], bad: list[Refused]
) -> Rows | None:
    """The good rows, held against topic and version as a whole message is."""
    if not rows:
        rows_text = b"[]"
        stand_in = [BatchRow(seq=1, at_ms=0, numbers={})]
    else:
        rows_text = msgspec.json.encode(rows)
        stand_in = rows
    again = Batch(
        v=whole.v, site=whole.site, line=whole.line, kind=whole.kind, box=whole.box,
        first=stand_in[0].seq, last=stand_in[-1].seq, rows=stand_in,
    )  # fmt: skip
    try:
        said = understood(Incoming(message.topic, msgspec.json.encode(again)), prefix)
        _unusable(said)
    except ValueError:
        return None
    return Rows(whole.line, whole.kind, whole.box, message.topic, rows, rows_text)
