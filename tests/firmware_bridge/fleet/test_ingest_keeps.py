"""What sites say is kept once, whatever comes in whatever order; on SQLite and on PostgreSQL."""

from __future__ import annotations

import random

import pytest

from analytics.errors import StoreFailing
from firmware_bridge.fleet.ingest.keeper import Keeper
from firmware_bridge.fleet.records.engine import Records
from firmware_bridge.fleet.records.tables import aside, doubts, lines, metadata, sites
from firmware_bridge.receiver.words import Incoming
from tests.firmware_bridge.fleet.sites_speak import PREFIX, SITE, all_of, card, gone, kept, said
from tests.firmware_bridge.forward.outbox import START_MS, reading, readings, row

NOW_MS = START_MS + 3_600_000


@pytest.fixture
def keeper(records: Records) -> Keeper:
    """A keeper that adopts whoever comes."""
    return Keeper(records, PREFIX, adopt_newcomers=True)


def test_doubled_late_and_shuffled_messages_are_kept_once(records: Records, keeper: Keeper) -> None:
    """In any order, however often and in steps of any size, each row is there once, as it was."""
    others = [row(901, "draw", litres=0.25), row(902, "alarm", {"alarm": "leak"})]
    coming = said([*readings(1, 600), *readings(601, 900, "mill/1"), *others]) * 3
    chance = random.Random(4)
    chance.shuffle(coming)
    answers = []
    while coming:
        size = chance.randint(1, 9)
        answers = keeper.take(coming[:size], NOW_MS)
        coming = coming[size:]

    assert [(a.site, a.up_to, a.missing) for a in answers] == [(SITE, 902, [])]
    found = kept(records)
    assert sorted(found) == list(range(1, 903))
    assert found[700][:2] == ("mill/1", "reading")
    assert found[700][2].numbers == reading(700).numbers
    assert found[902][2].words == {"alarm": "leak"}
    assert all_of(records, aside) == []


def test_gap_holds_the_number_back_and_is_named(keeper: Keeper) -> None:
    """What is safe ends before the first missing number; numbers that are gone fill it."""
    (answer,) = keeper.take(said(readings(1, 60) + readings(81, 100)), NOW_MS)
    assert (answer.up_to, answer.missing) == (60, [(61, 80)])
    (answer,) = keeper.take(gone((61, 80)), NOW_MS)
    assert (answer.up_to, answer.missing) == (100, [])


def test_number_that_comes_again_with_other_content_goes_aside(
    records: Records, keeper: Keeper
) -> None:
    """The first row stands, the other one is kept aside with the reason, and it is a doubt."""
    keeper.take(said(readings(1, 10)), NOW_MS)
    (answer,) = keeper.take(said([reading(7, outlet_us_cm=1.0), reading(11)]), NOW_MS)

    assert answer.up_to == 11
    assert kept(records)[7][2].numbers == reading(7).numbers
    (one,) = all_of(records, aside)
    assert one["reason"] == "number 7 is another row already"
    assert [d["doubt"] for d in all_of(records, doubts)] == ["other-rows"]


def test_bad_row_goes_aside_alone_and_holds_nothing_up(records: Records, keeper: Keeper) -> None:
    """Of a batch with one unreadable row the others are kept; its number need not come again."""
    bad = said([reading(1), reading(2), reading(3)])[0]
    text = bad.payload.replace(b'"outlet_temp_c":19.25', b'"outlet_temp_c":"warm"', 1)
    (answer,) = keeper.take([Incoming(bad.topic, text)], NOW_MS)

    assert answer.up_to == 3
    assert sorted(kept(records)) == [1, 3]
    (one,) = all_of(records, aside)
    assert str(one["reason"]).startswith("row 2: Expected `float`")


@pytest.mark.parametrize(
    ("topic", "payload", "reason"),
    [
        (f"{PREFIX}/v1/{SITE}/bar/readings", b"no json", "JSON is malformed"),
        (f"{PREFIX}/v1/{SITE}/bar/readings", b"[" * 100_000, ""),
        (f"{PREFIX}/v1/{SITE}/bar/secrets", b"{}", "its topic is none of ours"),
        (f"{PREFIX}/v2/{SITE}/bar/readings", b"{}", "newer: its topic is of version 2"),
        (f"{PREFIX}/v1/{SITE}/gone", b'{"v":3}', "newer: it is of version 3"),
        (f"{PREFIX}/v1/{SITE}/card", b"\xff\xfe", ""),
    ],
)
def test_what_cannot_be_read_goes_aside_whole(
    records: Records, keeper: Keeper, topic: str, payload: bytes, reason: str
) -> None:
    """A message that makes no sense is kept with the reason and stops nobody else."""
    keeper.take([Incoming(topic, payload), *said(readings(1, 5), "other")], NOW_MS)

    (one,) = all_of(records, aside)
    assert one["payload"] == payload[:65_536]
    assert str(one["reason"]).startswith(reason)
    assert sorted(kept(records, "other")) == [1, 2, 3, 4, 5]
    assert [site["site"] for site in all_of(records, sites)] == ["other"]


def test_name_no_database_can_hold_stops_nobody(records: Records, keeper: Keeper) -> None:
    """A line called by a null byte goes aside; what came with it is kept."""
    bad = said([reading(1, "a\0b")], "strange")
    keeper.take([*bad, *said(readings(1, 5))], NOW_MS)

    assert sorted(kept(records)) == [1, 2, 3, 4, 5]
    assert len(all_of(records, aside)) == 1


def test_unknown_site_is_shown_and_keeps_its_own_rows(records: Records) -> None:
    """Nothing of a stranger is stored or confirmed until it is adopted; who it is can be seen."""
    keeper = Keeper(records, PREFIX)
    assert keeper.take([*card(), *said(readings(1, 50))], NOW_MS) == []
    (site,) = all_of(records, sites)
    assert (site["state"], site["name"]) == ("unknown", f"Name of {SITE}")
    assert kept(records) == {}
    assert all_of(records, lines) == []


def test_records_put_back_to_an_older_state_are_filled_again(
    records: Records, keeper: Keeper
) -> None:
    """A worker that knew more than an older backup holds begins anew with what sites send again."""
    keeper.take(said(readings(1, 5)), NOW_MS)
    with records.begin() as connection:
        for table in reversed(metadata.sorted_tables):
            if table.name != "marks":
                connection.execute(table.delete())
    with pytest.raises(StoreFailing):
        keeper.take(said(readings(6, 9)), NOW_MS)
    (answer,) = keeper.take(said(readings(1, 9)), NOW_MS)

    assert answer.up_to == 9
    assert sorted(kept(records)) == list(range(1, 10))
