"""A site's own pages from what the fleet received: they say what the site's own pages say."""

from __future__ import annotations

import hashlib
import io
import json
import re
import zipfile
from collections.abc import Iterator
from pathlib import Path

import msgspec
import numpy as np
import pytest
from sqlalchemy import select, update

from analytics.samples import DAY_MS, HOUR_MS, MINUTE_MS
from dashboards.fleet.rebuilt import change_of, estimate_of, event_of, holding
from dashboards.fleet.source import ReceivedSource
from dashboards.history.span import Span
from dashboards.paper.make import Wanted
from firmware_bridge.fleet.ingest.keeper import Keeper
from firmware_bridge.fleet.records import line_rows, site_rows, tables
from firmware_bridge.fleet.records.engine import Records, open_records
from firmware_bridge.fleet.records.sight import ALL
from firmware_bridge.forward.payloads import BatchRow, Message, card_message, pack
from firmware_bridge.forward.sink import card_of
from firmware_bridge.receiver.words import Incoming
from firmware_bridge.store.chain import verify_chain
from tests.dashboards.fleet.stocked import Stock, signed_in
from tests.dashboards.lived_site import live_nine_days
from tests.dashboards.specimens import english
from tests.dashboards.stored_site import FIRST_MS, NOW_MS, ROME, Site, setup_of

pytestmark = [pytest.mark.timeout(120), pytest.mark.xdist_group("fleet-received")]


class Both:
    """One life of one site: in its own store, and as the fleet received it over the stream."""

    def __init__(self, folder: Path) -> None:
        self.site = Site(folder / "site.db")
        live_nine_days(self.site)
        self.records = open_records(f"sqlite:///{folder / 'fleet.sqlite'}")
        keeper = Keeper(self.records, "lastlitre", adopt_newcomers=True)
        keeper.take(_heard([card_message(card_of(setup_of()), "lastlitre")]), NOW_MS)
        outbox, after = self.site.store.outbox, 0
        while rows := outbox.read(after, 4000):
            packed, unfit = pack(rows, "lastlitre", "harbour-steps")
            assert not unfit
            keeper.take(_heard(packed), NOW_MS)
            after = rows[-1].seq

    def received(self, records: Records) -> ReceivedSource:
        """The site from a view of the records that stays open."""
        with records.read() as connection:
            row = site_rows.one(connection, ALL, 1)
            assert row is not None
            lines = line_rows.of_site(connection, 1)
        kept = records.engine.connect()
        self.kept = kept
        return ReceivedSource(kept, row, lines, ROME, NOW_MS)

    def close(self) -> None:
        """Give everything back."""
        self.kept.close()
        self.records.close()
        self.site.reader.close()
        self.site.store.close()


def _heard(messages: list[Message]) -> list[Incoming]:
    return [Incoming(message.topic, message.payload) for message in messages]


@pytest.fixture(scope="module")
def both(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Both]:
    """Made once: nine days of minutes take their time."""
    found = Both(tmp_path_factory.mktemp("received"))
    found.source = found.received(found.records)  # type: ignore[attr-defined]
    yield found
    found.close()


@pytest.fixture(scope="module")
def far(both: Both) -> ReceivedSource:
    """The site as the fleet has it."""
    source: ReceivedSource = both.source  # type: ignore[attr-defined]
    return source


def test_facts_are_those_of_the_site(both: Both, far: ReceivedSource) -> None:
    """Cartridge, drop test, alarms, litres of the week, limits: as at the site itself."""
    near_line, far_line = both.site.line, far.facts().lines[0]

    assert far_line.fitted_ms == near_line.fitted_ms
    assert far_line.last_test is not None
    assert near_line.last_test is not None
    assert far_line.last_test.alkalinity_meq_l == near_line.last_test.alkalinity_meq_l
    assert [a.alarm for a in far_line.alarms] == [a.alarm for a in near_line.alarms]
    assert far_line.setup.limits == near_line.setup.limits
    assert far_line.setup.capacity_kind == near_line.setup.capacity_kind
    assert far_line.setup.opening == far_line.setup.opening
    for mine, theirs in zip(far_line.days, near_line.days, strict=True):
        assert mine.from_ms == theirs.from_ms
        assert mine.shut == theirs.shut
        assert mine.litres is not None
        assert theirs.litres is not None
        # ours counts draws, theirs every pulse: what trickled between draws is the difference
        assert mine.litres == pytest.approx(theirs.litres, rel=0.05)


def test_estimate_is_that_of_the_site_but_for_what_does_not_travel(
    both: Both, far: ReceivedSource
) -> None:
    """The particles' rows are drawn anew from the range; remarks and sharpeners stay at home."""
    near, mine = both.site.line.estimate, far.facts().lines[0].estimate
    assert near is not None
    assert mine is not None
    left_out = {"used_rows": (), "remarks": (), "sharpeners": ()}

    assert msgspec.structs.replace(mine, **left_out) == msgspec.structs.replace(near, **left_out)
    assert len(mine.used_rows) == 33
    assert np.allclose(mine.used_rows, near.used_rows, atol=0.1)
    assert all(a >= b for a, b in zip(mine.used_rows, mine.used_rows[1:], strict=False))


@pytest.mark.parametrize("days", [1, 8])
def test_history_is_that_of_the_site(both: Both, far: ReceivedSource, days: int) -> None:
    """Litres, means, extremes, hardness, events, alarms: bin by bin, over a day and over a week."""
    span = Span(from_ms=NOW_MS - days * DAY_MS, to_ms=NOW_MS)
    near, mine = both.site.source.record("bar", span, NOW_MS), far.record("bar", span, NOW_MS)

    np.testing.assert_allclose(mine.litres, near.litres, rtol=1e-9)
    np.testing.assert_allclose(mine.ec_out.mean, near.ec_out.mean, rtol=1e-9)
    np.testing.assert_allclose(mine.flow.high, near.flow.high, rtol=1e-9)
    np.testing.assert_allclose(mine.temp.low, near.temp.low, rtol=1e-9)
    if days == 1:
        np.testing.assert_allclose(mine.ec_out.high, near.ec_out.high, rtol=1e-4)
    assert mine.hardness == near.hardness
    assert mine.events == near.events
    assert mine.alarms == near.alarms
    assert mine.tests == near.tests
    assert mine.gaps == near.gaps
    assert (mine.first_ms, mine.last_ms) == (near.first_ms, near.last_ms)


def test_cartridges_are_those_of_the_site(both: Both, far: ReceivedSource) -> None:
    """Each with when it was fitted and taken out, and how it stood."""
    near, mine = both.site.source.cartridges("bar", NOW_MS), far.cartridges("bar", NOW_MS)

    assert [c.fitted for c in mine] == [c.fitted for c in near]
    assert [c.until_ms for c in mine] == [c.until_ms for c in near]


def test_evidence_holds_the_same_facts_and_the_same_chain(both: Both, far: ReceivedSource) -> None:
    """The logbook's digests came along: its chain is whole, and ends where the site's own does."""
    wanted = Wanted(kind="evidence", line_id="bar", cartridge=0)
    bundles = [
        zipfile.ZipFile(io.BytesIO(source.paper(wanted, english(), NOW_MS).body))
        for source in (both.site.source, far)
    ]
    near, mine = (json.loads(b.read("manifest.json")) for b in bundles)

    assert mine["logbook_head"] == near["logbook_head"] != ""
    assert (mine["cartridge"], mine["fitted"]) == ("HS-0001", near["fitted"])
    for name in ("logbook.csv", "alarms.csv", "gaps.csv"):
        assert bundles[1].read(name) == bundles[0].read(name), name
    for name, digest in mine["files"].items():
        assert hashlib.sha256(bundles[1].read(name)).hexdigest() == digest
    assert bundles[1].read("evidence.pdf").startswith(b"%PDF")


def test_erased_name_leaves_the_chain_whole(both: Both) -> None:
    """The entry stands without its name; what comes after it can still be held against it."""
    whole = verify_chain(both.site.reader.logbook()).head
    with both.records.begin() as connection:
        before = connection.execute(select(tables.names.c.name_no, tables.names.c.name)).all()
        assert site_rows.erase_name(connection, 1, "Ada", NOW_MS) == 1
    source = both.received(both.records)
    wanted = Wanted(kind="evidence", line_id="bar", cartridge=0)
    with zipfile.ZipFile(io.BytesIO(source.paper(wanted, english(), NOW_MS).body)) as bundle:
        logbook = bundle.read("logbook.csv").decode()
        head = json.loads(bundle.read("manifest.json"))["logbook_head"]
    with both.records.begin() as connection:
        for number, name in before:
            row = update(tables.names).where(tables.names.c.name_no == number)
            connection.execute(row.values(name=name, erased_ms=None))

    assert "Ada" not in logbook
    assert head == whole


def test_late_row_speaks_for_everything_from_its_instant_on() -> None:
    """As the stream's contract has it."""

    def row(seq: int, at_ms: int) -> tuple[int, str, BatchRow]:
        return 0, "bar", BatchRow(seq=seq, at_ms=at_ms, numbers={})

    told = [row(1, 10), row(2, 20), row(3, 30), row(4, 20), row(5, 40)]

    assert [r.seq for r in holding(told)] == [1, 4, 5]


@pytest.mark.parametrize(
    "row",
    [
        BatchRow(seq=1, at_ms=1, numbers={}),
        BatchRow(seq=1, at_ms=1, numbers={"until_ms": 1e300, "share": -1e300},
                 words={"event": "shelved", "alarm": "x", "change": "y", "priority": "z"}),
        BatchRow(seq=1, at_ms=-(2**52), numbers={"known_at_ms": 1e18}, words={"event": "note"}),
        BatchRow(seq=1, at_ms=1, numbers={"used_share_p05": 2.0, "used_share_p50": -1.0,
                                          "used_share_p95": 0.0}, words={"event": "no-such"}),
    ],
)  # fmt: skip
def test_row_that_makes_no_sense_costs_nothing_but_itself(row: BatchRow) -> None:
    """It becomes an estimate, an event, a change, or nothing; never an exception."""
    assert estimate_of(row) is not None
    event_of(row, "bar", None)
    change_of(row)


async def test_site_pages_stay_inside_the_site(fleet: Stock) -> None:
    """Every link of a site's pages leads below its own address, or to the contents."""
    number = fleet.site("steps", name="Harbour Steps", lines=("bar", "kitchen"))
    fleet.rows(number, "draw", [BatchRow(seq=5, at_ms=fleet.now_ms - HOUR_MS, numbers={
        "end_ms": float(fleet.now_ms - HOUR_MS + MINUTE_MS), "pulses": 800.0,
        "outlet_ec25_us_cm": 300.0, "outlet_temp_c": 17.0})])  # fmt: skip
    inside = re.compile(rf"^(/site/{number}/|/(due|round|parts|sites|doubt|more|static)\b|\?|#)")
    async with signed_in(fleet.app(), "technician") as client:
        for page in ("now", "history", "alarms", "paper"):
            html = (await client.get(f"/site/{number}/{page}")).text
            links = re.findall(r'(?:href|action|data-figures)="([^"]*)"', html)
            strange = [link for link in links if not inside.match(link) and link != "/sign-out"]
            assert strange == [], page
            for link in links:
                if link.startswith(f"/site/{number}/") and "paper/get" not in link:
                    found = await client.get(link.replace("&amp;", "&"))
                    assert found.status_code == 200, link
            assert "data-stream" not in html
            assert 'action="/act' not in html


def test_life_reaches_from_its_first_row(far: ReceivedSource) -> None:
    """The first row's instant is known from the parcels, without opening any."""
    assert far.facts().lines[0].first_row_ms == FIRST_MS
