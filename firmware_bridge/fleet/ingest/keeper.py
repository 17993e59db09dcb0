"""Keeps what sites said, once in effect, and tells what may be confirmed to them.

    take(messages) -> answers, after the commit: what is answered is on the disk

A site that nobody adopted keeps its own rows: nothing of them is kept here and nothing is
confirmed, so it lets go of none, and the first word after the adoption has them all sent. That
costs no room for strangers and loses nothing; who it is (its card) and when it was heard is kept,
so that a person can see it. A retired site is heard by nobody.
"""

from __future__ import annotations

from collections.abc import Sequence

import msgspec
import structlog
from sqlalchemy import update

from analytics.errors import StoreError, StoreFailing
from analytics.samples import DAY_MS
from firmware_bridge.fleet.ingest.confirming import SPANS_ASKED
from firmware_bridge.fleet.ingest.follow import follow, over_lines
from firmware_bridge.fleet.ingest.messages import LONGEST_AHEAD, Heard, Refused, sorted_by_site
from firmware_bridge.fleet.ingest.presence import one_box, presence, recall_cards, same_cards
from firmware_bridge.fleet.ingest.rows import Fresh, chunk_of, fresh_rows
from firmware_bridge.fleet.ingest.step import Known, Step, enter_sites
from firmware_bridge.fleet.records.engine import Records
from firmware_bridge.fleet.records.tables import sites
from firmware_bridge.forward.payloads import Now
from firmware_bridge.receiver.spans import Pair
from firmware_bridge.receiver.words import Incoming

log = structlog.get_logger(__name__)

MOST_PIECES = 2000
"""A site whose numbers are in more pieces than this fills gaps before it goes on."""


class Answer(msgspec.Struct, frozen=True):
    """What a site may be told: all up to `up_to` is safe; `missing` are its first gaps."""

    site: str
    up_to: int
    missing: list[Pair]


Shown = tuple[str, int, tuple[int, ...]]
"""Box, number of the estimate, numbers of the alarms' changes."""


class Counts(msgspec.Struct):
    """What passed, since the start."""

    messages: int = 0
    rows: int = 0
    steps: int = 0
    put_aside: int = 0


class Keeper:
    """Takes messages into the records; one thread at a time."""

    def __init__(
        self,
        records: Records,
        prefix: str,
        *,
        adopt_newcomers: bool = False,
        readings_days: float = 90.0,
    ) -> None:
        self._records = records
        self.prefix = prefix
        self._adopt = adopt_newcomers
        self._thin_after_ms = round(readings_days * DAY_MS)
        self._sites: set[str] = set()
        self._lines: dict[int, set[str]] = {}
        self._shown: dict[tuple[int, str], Shown] = {}
        self._showing: dict[tuple[int, str], Shown] = {}
        self.counts = Counts()

    def take(self, messages: Sequence[Incoming], now_ms: int) -> list[Answer]:
        """Keep what the messages say, all in one step; once this returns it is on the disk.

        Raises StoreFailing where the database is away: nothing of it was kept then. A message the
        database will not have goes aside, the others are kept.
        """
        try:
            return self._take(messages, now_ms)
        except StoreError as exc:
            for remembered in (self._lines, self._sites, self._shown, self._showing):
                remembered.clear()
            if isinstance(exc, StoreFailing):
                raise
            if len(messages) == 1:
                return self._give_up(messages[0], exc, now_ms)
        middle = len(messages) // 2
        first, second = messages[:middle], messages[middle:]
        return self.take(first, now_ms) + self.take(second, now_ms)

    def shut_out(self, names: Sequence[str], now_ms: int, for_s: float) -> None:
        """These sites said far too much: nobody listens to them for a while, and it is told."""
        with self._records.begin() as connection:
            step = Step(self._records, connection, now_ms)
            there = step.lock(names)
            reason = "it says far too much and is not listened to for a while"
            step.aside += [Refused(n, n, reason, b"") for n in names if n not in there]
            for known in there.values():
                until_ms = now_ms + round(for_s * 1000)
                here = sites.c.site_no == known.site_no
                connection.execute(update(sites).where(here).values(muted_until_ms=until_ms))
                step.doubt(known, "flooding", until_ms=until_ms)
            step.write(())

    def _take(self, messages: Sequence[Incoming], now_ms: int) -> list[Answer]:
        heard = sorted_by_site(messages, self.prefix)
        strangers = [s for s, said in heard.items() if s not in self._sites and said.speaks]
        entered = self._enter(strangers, now_ms)
        with self._records.begin() as connection:
            self._records.writes_chunks(connection)
            step = Step(self._records, connection, now_ms)
            known = step.lock([site for site in heard if site])
            if any(site in self._sites and site not in known for site in heard):
                raise StoreFailing("a site is not in the records any more", "It is entered again.")
            for site in entered & set(known):
                known[site].new = True
            same_cards(step, heard)
            waiting = self._keep(step, known, heard)
            step.write(known.values())
        self._sites |= set(known)
        self._shown |= self._showing
        self._showing = {}
        self._count(len(messages), step)
        return [
            Answer(each.site, each.held.up_to, each.held.missing(SPANS_ASKED)) for each in waiting
        ]

    def _enter(self, strangers: Sequence[str], now_ms: int) -> set[str]:
        """Sites this worker has not heard before; the ones that nobody had."""
        named = [site for site in strangers if site]
        return enter_sites(self._records, named, now_ms, adopt=self._adopt) if named else set()

    def _keep(self, step: Step, known: dict[str, Known], heard: dict[str, Heard]) -> list[Known]:
        """Keep what each site said; the sites that wait for an answer."""
        told: list[tuple[Known, Heard]] = []
        for site, said in heard.items():
            of_site = known.get(site)
            if of_site is None:
                step.aside += [*said.refused, *(_no_room(said) if said.speaks else ())]
                continue
            if (of_site.muted_until_ms or 0) > step.now_ms:
                continue
            one_box(step, of_site, said)
            presence(step, of_site, said)
            if of_site.state == "adopted":
                step.aside += said.refused
                told.append((of_site, said))
        for of_site, said in told:
            self._same(of_site, said)
        recall_cards(step, [pair for pair in told if pair[0].site_no not in self._lines])
        fresh = [(each, self._rows(step, each, said), said) for each, said in told]
        follow(step, fresh, self._lines)
        return [each for each, said in told if each.new or said.batches or said.gone]

    def _same(self, known: Known, said: Heard) -> None:
        """Find the summaries that say nothing new but readings and draws; most do not."""
        there = self._lines.get(known.site_no, ())
        for line, told in said.nows.items():
            shown = shown_by(told)
            place = (known.site_no, line)
            if line in there and self._shown.get(place) == shown:
                said.same.add(line)
            self._showing[place] = shown

    def _rows(self, step: Step, known: Known, said: Heard) -> list[Fresh]:
        there = self._lines.get(known.site_no)
        if any(batch.line not in (there or ()) for batch in said.batches):
            over_lines(step, known, said)
        for gone in said.gone:
            _hold_gone(step, known, gone.spans, self.prefix)
        for number in said.let_go:
            known.held.add(number, number)
            known.changed = True
        if len(known.held) > MOST_PIECES:
            top = known.held.highest
            said.batches = [batch for batch in said.batches if batch.rows[0].seq < top]
        found = fresh_rows(step, known, said, step.now_ms - self._thin_after_ms)
        step.chunks += [chunk_of(known, each) for each in found if each.kind != "event"]
        return found

    def _count(self, messages: int, step: Step) -> None:
        counts = self.counts
        counts.messages += messages
        counts.steps += 1
        counts.rows += sum(chunk["rows"] for chunk in step.chunks)
        counts.put_aside += len(step.aside)

    def _give_up(self, message: Incoming, why: StoreError, now_ms: int) -> list[Answer]:
        log.warning("ingest.put_aside", topic=message.topic, why=str(why))
        with self._records.begin() as connection:
            step = Step(self._records, connection, now_ms)
            step.aside.append(Refused("", message.topic, str(why), message.payload))
            step.write(())
        self.counts.put_aside += 1
        return []


def shown_by(told: Now) -> Shown:
    """What a summary shows, by the numbers of its rows; readings and draws left out."""
    estimate = told.newest.get("estimate")
    alarms = tuple(sorted(row.seq for row in told.alarms.values()))
    return told.box, estimate.seq if estimate is not None else 0, alarms


def _no_room(said: Heard) -> list[Refused]:
    """What is left of a site that cannot even wait: that it was there."""
    reason = "too many unknown sites wait to be adopted already"
    return [Refused(said.site, said.site, reason, said.card_text.encode())]


def _hold_gone(step: Step, known: Known, spans: Sequence[Pair], prefix: str) -> None:
    for first, last in spans:
        if last > known.held.highest + LONGEST_AHEAD:
            reason = f"it says that numbers up to {last} are gone, far beyond all that came before"
            payload = f"[{first},{last}]".encode()
            step.aside.append(Refused(known.site, f"{prefix}/{known.site}/gone", reason, payload))
            continue
        known.held.add(first, last)
        known.changed = True
