"""One step of an ingest worker: sites locked, what is to be written gathered, then written at once.

Sites are locked in the order of their numbers, so that workers wait for each other and never in a
ring. What is known of a site is read under that lock: no worker keeps anything in memory that
another one could have changed.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import msgspec
from sqlalchemy import BigInteger, Text, func, select, update
from sqlalchemy.engine import Connection

from firmware_bridge.fleet.ingest.asides import put_aside
from firmware_bridge.fleet.ingest.messages import Refused
from firmware_bridge.fleet.records.engine import Records
from firmware_bridge.fleet.records.tables import chunks, doubts, held, sites
from firmware_bridge.receiver.spans import Pair, Spans

HEARD_EVERY_MS = 30_000
"""The instant a site was heard at is written down this often at most."""
MOST_UNKNOWN = 1000
"""So many sites may wait for a person to adopt them."""

_pairs = msgspec.json.Decoder(list[Pair])
_write = msgspec.json.Encoder()

Params = list[dict[str, Any]]


class Known(msgspec.Struct):
    """What is known of a site, under its lock."""

    site_no: int
    site: str
    state: str
    box: str
    online: bool | None
    heard_ms: int | None
    clock_ahead_ms: int | None
    muted_until_ms: int | None
    held: Spans
    era: int = 0
    new: bool = False
    claimed: bool = False
    """Whether a box spoke for it for the first time."""
    changed: bool = False
    """Whether numbers were added to `held`."""


def enter_sites(records: Records, names: Iterable[str], now_ms: int, *, adopt: bool) -> set[str]:
    """Enter sites that are heard for the first time, as far as there is room for unknown ones;
    those that were.

    It is a step of its own, done before any site is locked, so that workers do not wait for each
    other in a ring.
    """
    with records.begin() as connection:
        there = select(sites.c.site).where(records.among_texts(sites.c.site, names))
        missing = sorted(set(names) - set(connection.scalars(there)))
        if missing and not adopt:
            waiting = select(func.count()).where(sites.c.state == "unknown")
            missing = missing[: max(MOST_UNKNOWN - int(connection.scalar(waiting) or 0), 0)]
        if not missing:
            return set()
        state = "adopted" if adopt else "unknown"
        rows = [{"site": name, "state": state, "first_heard_ms": now_ms} for name in missing]
        connection.execute(records.upsert(sites, ("site",)), rows)
        numbers = select(sites.c.site_no).where(records.among_texts(sites.c.site, missing))
        entered = [{"site_no": number} for number in sorted(connection.scalars(numbers))]
        connection.execute(records.upsert(held, ("site_no",)), entered)
        return set(missing)


class Step:
    """A transaction under way. `write` sends what was gathered, one statement a table."""

    def __init__(self, records: Records, connection: Connection, now_ms: int) -> None:
        self.records = records
        self.connection = connection
        self.now_ms = now_ms
        self.chunks: Params = []
        self.aside: list[Refused] = []
        self.sites: Params = []
        self.cards: Params = []
        self.doubts: Params = []
        self.no_doubts: list[tuple[int, str]] = []

    def lock(self, names: Iterable[str]) -> dict[str, Known]:
        """What is known of these sites, each locked until the end of the step.

        All of them are locked by one statement, in the order of their numbers: a second one could
        make two workers wait for each other.
        """
        where = self.records.among_texts(sites.c.site, names)
        asked = _KNOWN.where(where).with_for_update(key_share=True)
        return {
            row.site: Known(
                row.site_no, row.site, row.state, row.box, row.online, row.heard_ms,
                row.clock_ahead_ms, row.muted_until_ms, Spans(_pairs.decode(row.spans)), row.era,
            )
            for row in self.connection.execute(asked)
        }  # fmt: skip

    def write(self, known: Iterable[Known]) -> None:
        """Send everything that was gathered."""
        self._held([each for each in known if each.changed])
        self.records.load(self.connection, chunks, self.chunks)
        self._sites(self.sites, HEARD)
        self._sites(self.cards, CARD)
        self.many(self.records.upsert(doubts, ("site_no", "line", "doubt"), ("body",)), self.doubts)
        for site_no, doubt in self.no_doubts:
            gone = (doubts.c.site_no == site_no) & (doubts.c.doubt == doubt)
            self.connection.execute(doubts.delete().where(gone))
        put_aside(self.connection, self.aside, self.now_ms)

    def many(self, statement: Any, params: Params) -> None:
        """One statement for many rows; nothing where there are none."""
        if params:
            self.connection.execute(statement, params)

    def doubt(self, known: Known, doubt: str, **body: Any) -> None:
        """The site's data contradict themselves; since when is kept."""
        self.doubts.append(
            {
                "site_no": known.site_no, "line": "", "doubt": doubt, "since_ms": self.now_ms,
                "body": _write.encode(body).decode(),
            }
        )  # fmt: skip

    def no_doubt(self, known: Known, doubt: str) -> None:
        """It no longer does."""
        self.no_doubts.append((known.site_no, doubt))

    def _held(self, known: list[Known]) -> None:
        if not known:
            return
        rows = [
            {
                "no": each.site_no, "spans": _write.encode(each.held.pairs()).decode(),
                "up_to": each.held.up_to, "highest": each.held.highest,
            }
            for each in known
        ]  # fmt: skip
        new = self.records.given(
            rows, no=BigInteger, spans=Text, up_to=BigInteger, highest=BigInteger
        )
        values = {name: new.c[name] for name in ("spans", "up_to", "highest")}
        here = held.c.site_no == new.c.no
        self.connection.execute(
            update(held).where(here).values(version=held.c.version + 1, **values)
        )

    def _sites(self, rows: Params, names: tuple[str, ...]) -> None:
        if not rows:
            return
        types = {name: sites.c[name].type for name in names}
        new = self.records.given(rows, no=BigInteger, **types)
        values = {name: new.c[name] for name in names}
        self.connection.execute(update(sites).where(sites.c.site_no == new.c.no).values(values))


HEARD = ("heard_ms", "online", "box", "clock_ahead_ms")
CARD = ("card", "name", "service", "program")
_KNOWN = (
    select(
        sites.c.site_no, sites.c.site, sites.c.state, sites.c.box, sites.c.online,
        sites.c.heard_ms, sites.c.clock_ahead_ms, sites.c.muted_until_ms, held.c.spans, held.c.era,
    )
    .join(held, held.c.site_no == sites.c.site_no)
    .order_by(sites.c.site_no)
)  # fmt: skip
