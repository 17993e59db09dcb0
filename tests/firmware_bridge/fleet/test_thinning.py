"""Readings by age: as they came, by the minute, gone; everything else stays."""

from __future__ import annotations

from firmware_bridge.fleet.config import Keep
from firmware_bridge.fleet.ingest.keeper import Keeper
from firmware_bridge.fleet.records.engine import Records
from firmware_bridge.fleet.records.tables import aside, chunks, held
from firmware_bridge.fleet.records.thinning import SERIES_MARK, by_the_minute, thin
from firmware_bridge.forward.payloads import BatchRow
from tests.firmware_bridge.fleet.sites_speak import PREFIX, all_of, kept, said
from tests.firmware_bridge.forward.outbox import START_MS, reading, readings, row

DAY_MS = 86_400_000
KEEP = Keep(readings_days=10.0, minutes_days=40.0)


def test_a_minute_is_its_mean_its_pulses_their_sum() -> None:
    """Flags are joined; a value that was not always there is the mean of when it was."""
    rows = [
        BatchRow(seq=1, at_ms=60_000, numbers={"outlet_us_cm": 400.0, "pulses": 3, "flags": 1}),
        BatchRow(seq=2, at_ms=61_000, numbers={"outlet_us_cm": 402.0, "pulses": 4, "flags": 4}),
        BatchRow(seq=3, at_ms=119_999, numbers={"pulses": 1}),
        BatchRow(seq=4, at_ms=120_000, numbers={"pulses": 9}),
    ]
    first, second = by_the_minute(rows)

    assert first.numbers == {"outlet_us_cm": 401.0, "pulses": 8, "flags": 5}
    assert (first.seq, second.seq, second.numbers) == (3, 4, {"pulses": 9})


def settled(records: Records, now_ms: int) -> int:
    """Thin until nothing is due; the chunks gone through."""
    gone_through = 0
    while found := thin(records, KEEP, now_ms):
        gone_through += found
    return gone_through


def test_readings_become_minutes_then_go_and_the_rest_stays(records: Records) -> None:
    """What is thinned is known to be held: told again it is dropped, not kept twice."""
    keeper = Keeper(records, PREFIX, adopt_newcomers=True, readings_days=10.0)
    coming = said([*readings(1, 600), row(601, "draw", pulses=3.0)])
    keeper.take(coming, START_MS)
    assert settled(records, START_MS + 1 * DAY_MS) == 0
    assert settled(records, START_MS + 11 * DAY_MS) == 1

    found = kept(records)
    assert len(found) == 11 + 1
    assert found[601][1] == "draw"
    keeper.take(coming, START_MS + 11 * DAY_MS)
    assert sorted(kept(records)) == sorted(found)
    assert all_of(records, aside) == []
    assert settled(records, START_MS + 41 * DAY_MS) == 1
    assert [c["kind"] for c in all_of(records, chunks)] == ["draw"]
    assert all_of(records, held)[0]["up_to"] == 601


def test_chunks_of_an_hour_become_one_and_their_rows_stay(records: Records) -> None:
    """After two days; a row told again is known, one with other content goes aside."""
    keeper = Keeper(records, PREFIX, adopt_newcomers=True, readings_days=10.0)
    for start in range(1, 7200, 60):
        keeper.take(said(readings(start, start + 59)), START_MS)
    before = kept(records)
    assert len(all_of(records, chunks)) == 120
    assert settled(records, START_MS + 3 * DAY_MS) == 120

    assert len(all_of(records, chunks)) == 3
    assert kept(records) == before
    keeper.take(said([reading(61), reading(62, x=1.0)]), START_MS + 3 * DAY_MS)
    assert kept(records) == before
    assert len(all_of(records, aside)) == 1
    assert settled(records, START_MS + 12 * DAY_MS) == 3
    assert [(c["first"], c["last"], c["rows"]) for c in all_of(records, chunks)] == [(1, 7200, 121)]


def test_what_the_series_do_not_have_waits(records: Records) -> None:
    """Chunks beyond what a time-series store was sent twice stay as they are."""
    keeper = Keeper(records, PREFIX, adopt_newcomers=True)
    for start in (1, 61, 121):
        keeper.take(said(readings(start, start + 59)), START_MS)
    with records.begin() as connection:
        records.set_mark(connection, SERIES_MARK, "1")
    assert settled(records, START_MS + 3 * DAY_MS) == 1
    assert sorted(c["grain_ms"] for c in all_of(records, chunks)) == [0, 0, 1]


def test_number_said_to_be_gone_that_comes_late_is_kept(records: Records) -> None:
    """A young row is no thinned one: it was thought gone, and is there after all."""
    from tests.firmware_bridge.fleet.sites_speak import gone

    keeper = Keeper(records, PREFIX, adopt_newcomers=True)
    keeper.take([*said([reading(1), reading(3)]), *gone((2, 2))], START_MS)
    keeper.take(said([reading(2)]), START_MS)
    assert sorted(kept(records)) == [1, 2, 3]
