"""What follows from fresh rows: lines, alarms, cartridges, events, names, doubts."""

from __future__ import annotations

from typing import Any

import msgspec
import pytest
from sqlalchemy import update

from firmware_bridge.fleet.ingest.keeper import Keeper
from firmware_bridge.fleet.records.boxes import Claim, accept_box, claim_of, keep_box
from firmware_bridge.fleet.records.engine import Records
from firmware_bridge.fleet.records.silence import note_silence
from firmware_bridge.fleet.records.tables import (
    alarms,
    aside,
    cartridges,
    chunks,
    doubts,
    events,
    held,
    lines,
    names,
    sites,
)
from firmware_bridge.fleet.taken_again import take_again
from firmware_bridge.receiver.words import Incoming
from tests.firmware_bridge.fleet.sites_speak import (
    PREFIX,
    SITE,
    all_of,
    card,
    kept,
    online,
    said,
    summary,
)
from tests.firmware_bridge.forward.outbox import START_MS, reading, readings, row

NOW_MS = START_MS + 3_600_000


@pytest.fixture
def keeper(records: Records) -> Keeper:
    """A keeper that adopts whoever comes."""
    return Keeper(records, PREFIX, adopt_newcomers=True)


def estimate(seq: int, days: float, **more: float) -> Any:
    """An estimate."""
    numbers = {"remaining_l_p50": days * 50, "days_left_p50": days, "end_ms_p50": 1.8e12}
    return row(seq, "estimate", **(numbers | more))


def alarm(seq: int, state: str, name: str = "leak", who: str = "") -> Any:
    """A change of an alarm."""
    words = {"alarm": name, "change": "x", "state": state, "priority": "high"}
    return row(seq, "alarm", words | ({"who": who} if who else {}))


def test_line_shows_the_newest_whatever_comes_first(records: Records, keeper: Keeper) -> None:
    """Figures of the highest number stand, also when an older estimate comes late."""
    keeper.take(card(), NOW_MS)
    keeper.take(said([estimate(20, 3.0), reading(21)]), NOW_MS)
    keeper.take(said([estimate(10, 9.0), reading(11), row(12, "draw", pulses=7.0)]), NOW_MS)

    (line,) = all_of(records, lines)
    assert (line["days_left_p50"], line["end_p50_ms"]) == (3.0, 1_800_000_000_000)
    assert (line["medium"], line["size"], line["state"]) == ("hydrogen", "XL", "well")
    assert (line["reading_seq"], line["draw_seq"]) == (21, 12)


def test_summary_overtakes_rows_that_wait(records: Records, keeper: Keeper) -> None:
    """What the site says out of turn is shown before its rows are there; it confirms nothing."""
    keeper.take(said([reading(1), estimate(2, 9.0)]), NOW_MS)
    late = [estimate(900, 2.0), reading(901), alarm(902, "unacknowledged")]
    assert keeper.take(summary(*late), NOW_MS) == []

    (line,) = all_of(records, lines)
    assert (line["days_left_p50"], line["reading_seq"], line["state"]) == (2.0, 901, "high")
    assert all_of(records, held)[0]["up_to"] == 2
    keeper.take(summary(*late[:1], reading(950), late[2]), NOW_MS)
    (line,) = all_of(records, lines)
    assert (line["days_left_p50"], line["reading_seq"], line["state"]) == (2.0, 950, "high")
    keeper.take(summary(*late[:1], reading(951), alarm(960, "normal")), NOW_MS)
    (line,) = all_of(records, lines)
    assert (line["reading_seq"], line["state"]) == (951, "well")


def test_alarms_are_listed_until_they_are_normal(records: Records, keeper: Keeper) -> None:
    """Since when is kept over changes; a late raise does not bring a cleared alarm back."""
    keeper.take(said([alarm(5, "unacknowledged"), alarm(6, "acknowledged", who="Ada")]), NOW_MS)
    (one,) = all_of(records, alarms)
    assert (one["state"], one["seq"], one["since_ms"]) == ("acknowledged", 6, START_MS + 6000)
    keeper.take(said([alarm(9, "normal")]), NOW_MS)
    keeper.take(said([alarm(8, "unacknowledged")]), NOW_MS)

    assert all_of(records, alarms) == []
    assert [n["name"] for n in all_of(records, names)] == ["Ada"]
    assert "Ada" not in str(kept(records)) + str(all_of(records, lines))


def test_alarms_of_the_box_are_listed_without_a_line(records: Records, keeper: Keeper) -> None:
    """They belong to no line and make none; a late raise does not bring one back."""

    def disk(seq: int, state: str) -> Any:
        told = alarm(seq, state, "disk-low")
        return msgspec.structs.replace(told, line_id="")

    keeper.take(said([disk(5, "unacknowledged")]), NOW_MS)
    (one,) = all_of(records, alarms)
    assert (one["line"], one["alarm"]) == ("", "disk-low")
    keeper.take(said([disk(9, "normal")]), NOW_MS)
    keeper.take(said([disk(7, "acknowledged")]), NOW_MS)

    assert all_of(records, alarms) == []
    assert all_of(records, lines) == []


def test_what_people_did_is_kept_without_their_names(records: Records, keeper: Keeper) -> None:
    """Names stand apart; the same name is one entry, and told again nothing is doubled."""
    told = [
        row(3, "event", {"event": "note", "event_id": "e3", "who": "Ada", "note": "soft"}),
        row(4, "event", {"event": "note", "event_id": "e4", "who": "Ada"}),
    ]
    keeper.take(said(told), NOW_MS)
    (answer,) = keeper.take(said(told), NOW_MS)

    assert answer.missing == [(1, 2)]
    first, second = all_of(records, events)
    (name,) = all_of(records, names)
    assert first["name_no"] == second["name_no"] == name["name_no"]
    assert "Ada" not in str(first["body"])
    assert all_of(records, aside) == []


def test_cartridges_follow_what_was_told_withdrawn_and_corrected(
    records: Records, keeper: Keeper
) -> None:
    """Each ends where the next begins; a withdrawn one never was; sizes come from the card."""
    fitted = {"event": "cartridge-fitted"}
    keeper.take(card(), NOW_MS)
    keeper.take(said([row(9, "event", fitted | {"event_id": "e9"})]), NOW_MS)
    keeper.take(said([row(5, "event", fitted | {"event_id": "e5"})]), NOW_MS)
    first, second = sorted(all_of(records, cartridges), key=lambda c: str(c["fitted_ms"]))
    assert (first["removed_ms"], second["removed_ms"]) == (START_MS + 9000, None)
    assert (first["size"], first["capacity_mmol"]) == ("XL", 640.0)
    keeper.take(
        said([row(20, "event", {"event": "withdrawn", "event_id": "e20", "withdraws": "e9"})]),
        NOW_MS,
    )

    (left,) = all_of(records, cartridges)
    assert (left["fitted_ms"], left["removed_ms"]) == (START_MS + 5000, None)
    assert all_of(records, lines)[0]["fitted_ms"] == START_MS + 5000


def test_second_box_is_not_heard_and_is_a_doubt(records: Records, keeper: Keeper) -> None:
    """What it says goes aside with the reason; the first one goes on."""
    keeper.take([*card(box="aaaa"), *said(readings(1, 5), box="aaaa")], NOW_MS)
    answers = keeper.take(
        [*card(box="bbbb"), *said(readings(1, 9), box="bbbb"), *said([reading(6)], box="aaaa")],
        NOW_MS,
    )

    assert [a.up_to for a in answers] == [6]
    assert sorted(kept(records)) == [1, 2, 3, 4, 5, 6]
    assert all_of(records, sites)[0]["box"] == "aaaa"
    assert [d["doubt"] for d in all_of(records, doubts)] == ["two-boxes"]
    (one,) = all_of(records, aside)
    assert "another box (bbbb)" in str(one["reason"])


def test_accepted_box_counts_from_the_beginning(records: Records, keeper: Keeper) -> None:
    """A person lets the new box speak: its rows are kept beside those of the old one."""
    keeper.take(said(readings(1, 5), box="aaaa"), NOW_MS)
    keeper.take(said(readings(1, 3), box="bbbb"), NOW_MS)
    with records.begin() as connection:
        assert claim_of(connection, 1) == Claim(since_ms=NOW_MS, others=("bbbb",))
        accept_box(connection, 1, "bbbb")
        assert claim_of(connection, 1) is None
    (answer,) = keeper.take(said([reading(1, x=1.0), reading(2)], box="bbbb"), NOW_MS)

    assert answer.up_to == 2
    assert sorted((c["era"], c["rows"]) for c in all_of(records, chunks)) == [(0, 5), (1, 2)]
    assert all_of(records, doubts) == []
    assert all_of(records, lines)[0]["reading_seq"] == 2


def test_a_box_that_is_kept_stays_the_only_one_heard(records: Records, keeper: Keeper) -> None:
    """The doubt is settled until the other speaks again."""
    keeper.take(said(readings(1, 5), box="aaaa"), NOW_MS)
    keeper.take(said(readings(1, 3), box="bbbb"), NOW_MS)
    with records.begin() as connection:
        keep_box(connection, 1)
        assert claim_of(connection, 1) is None
    keeper.take(said([reading(6)], box="aaaa"), NOW_MS)
    assert all_of(records, doubts) == []
    keeper.take(said(readings(1, 3), box="bbbb"), NOW_MS + 1)

    assert sorted(kept(records)) == [1, 2, 3, 4, 5, 6]
    with records.read() as connection:
        assert claim_of(connection, 1) == Claim(since_ms=NOW_MS + 1, others=("bbbb",))


def test_unknown_site_that_is_adopted_is_known_by_the_card_it_showed(records: Records) -> None:
    """From the adoption on its rows are kept, and its line has the size of its card."""
    keeper = Keeper(records, PREFIX)
    keeper.take([*card(), *said(readings(1, 5))], NOW_MS)
    with records.begin() as connection:
        connection.execute(update(sites).values(state="adopted"))
    (answer,) = keeper.take(said(readings(1, 5)), NOW_MS)

    assert answer.up_to == 5
    assert all_of(records, lines)[0]["size"] == "XL"


def test_site_with_endless_lines_is_bounded(records: Records, keeper: Keeper) -> None:
    """Fifty lines are kept, the rest goes aside; it is a doubt."""
    coming = [m for seq in range(1, 71) for m in said([reading(seq, f"line-{seq:03}")])]
    keeper.take(coming, NOW_MS)

    assert len(all_of(records, lines)) == 50
    assert len(all_of(records, aside)) == 20
    assert "flooding" in {d["doubt"] for d in all_of(records, doubts)}


def test_presence_and_clock_are_told(records: Records, keeper: Keeper) -> None:
    """Whether it is connected, when it was heard, and that its clock is ahead of ours."""
    keeper.take([*online(True), *said([reading(1)])], START_MS - 3_600_000)
    (site,) = all_of(records, sites)
    assert (site["online"], site["heard_ms"]) == (True, START_MS - 3_600_000)
    assert [d["doubt"] for d in all_of(records, doubts)] == ["clock-ahead"]
    keeper.take([*online(False), *said([reading(2)])], START_MS + 60_000)

    assert all_of(records, sites)[0]["online"] in (False, 0)
    assert all_of(records, doubts) == []


def test_silence_is_a_doubt_by_our_own_clock(records: Records, keeper: Keeper) -> None:
    """It comes with time and goes with the next word."""
    keeper.take(said([reading(1)]), NOW_MS)
    note_silence(records, NOW_MS + 59_000, 60_000)
    assert all_of(records, doubts) == []
    note_silence(records, NOW_MS + 61_000, 60_000)
    (doubt,) = all_of(records, doubts)
    assert (doubt["doubt"], doubt["since_ms"]) == ("silent", NOW_MS)
    keeper.take(said([reading(2)]), NOW_MS + 62_000)
    note_silence(records, NOW_MS + 63_000, 60_000)

    assert all_of(records, doubts) == []


def test_messages_of_a_newer_program_are_taken_after_the_upgrade(
    records: Records, keeper: Keeper
) -> None:
    """They wait aside whole; what is understood by then is taken, the rest waits on."""
    (good,) = said(readings(1, 3))
    newer = Incoming(good.topic, good.payload.replace(b'"v":1', b'"v":2', 1))
    keeper.take([newer], NOW_MS)
    assert take_again(records, keeper, NOW_MS) == 0
    with records.begin() as connection:  # what the newer program would understand
        connection.execute(update(aside).values(payload=good.payload))

    assert take_again(records, keeper, NOW_MS) == 1
    assert sorted(kept(records)) == [1, 2, 3]
    assert all_of(records, aside) == []


def test_flooding_site_is_shut_out_for_a_while(records: Records, keeper: Keeper) -> None:
    """Nothing of it is kept meanwhile, others go on, and it is a doubt."""
    keeper.take(said([reading(1)]), NOW_MS)
    keeper.shut_out([SITE], NOW_MS, 60.0)
    answers = keeper.take(said([reading(2)]) + said([reading(1)], "other"), NOW_MS + 1000)
    assert [a.site for a in answers] == ["other"]
    keeper.take(said([reading(2)]), NOW_MS + 61_000)

    assert sorted(kept(records)) == [1, 2]
    assert [d["doubt"] for d in all_of(records, doubts)] == ["flooding"]
