"""Every row reaches the time-series store, twice on the way and once in it, behind ingest."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path

import pytest

from firmware_bridge.fleet.ingest.keeper import Keeper
from firmware_bridge.fleet.records.engine import Records
from firmware_bridge.fleet.series.feeder import Carrier, Feeder, FeederPace, SeriesStatus
from firmware_bridge.forward.sinks.line_protocol import LineProtocolOptions
from tests import peers
from tests.firmware_bridge.fleet.sites_speak import PREFIX, said
from tests.firmware_bridge.forward.outbox import START_MS, now_ms, reading, readings, row

BRISK = FeederPace(look_s=0.02, longest_wait_s=0.2)


def options(url: str, again_after_s: float = 0.3) -> LineProtocolOptions:
    """A store; rows are sent again soon."""
    return LineProtocolOptions(url=url, again_after_s=again_after_s)


def took(records: Records, site: str, first: int, last: int) -> None:
    """Ingest of readings of a site."""
    keeper = Keeper(records, PREFIX, adopt_newcomers=True)
    keeper.take(said(readings(first, last), site), START_MS)


@pytest.mark.peer
def test_store_has_every_row_of_every_site_once(records: Records, tmp_path: Path) -> None:
    """Readings, draws and estimates of two sites, killed store or not, as the sites sent them."""
    took(records, "harbour-steps", 1, 300)
    took(records, "mill-lane", 1, 200)
    keeper = Keeper(records, PREFIX, adopt_newcomers=True)
    keeper.take(
        said([row(301, "draw", pulses=3.0), row(302, "alarm", {"alarm": "leak"})]), START_MS
    )
    with (
        peers.time_series_store(tmp_path / "series") as store,
        Feeder(records, options(store.url), pace=BRISK, now_ms=now_ms) as feeder,
    ):
        peers.eventually("all to be sent twice", lambda: feeder.status.done >= 4)
        peers.eventually(
            "readings to show",
            lambda: len(store.samples('reading_outlet_us_cm{site!=""}')) == 500,
        )
        assert len(store.samples('draw_pulses{site="harbour-steps"}')) == 1
        assert len(store.samples('alarm_changes{site="harbour-steps"}')) == 1
        took(records, "harbour-steps", 303, 400)
        peers.eventually("new rows to follow", lambda: feeder.status.done >= 5)


def test_store_that_is_away_holds_nothing_up(records: Records) -> None:
    """Ingest goes on; the rows go when the store is there again, from where they were left."""
    with peers.front() as front:
        front.judge = lambda lines: (503, {}, "not now")
        with Feeder(records, options(front.url), pace=BRISK, now_ms=now_ms) as feeder:
            took(records, "harbour-steps", 1, 60)
            peers.eventually("a refusal", lambda: feeder.status.waits)
            took(records, "harbour-steps", 61, 120)
            front.judge = lambda lines: None
            peers.eventually("all to be sent twice", lambda: feeder.status.done >= 2)
    sent = [line for line in front.lines if line.startswith("reading")]
    assert len(set(sent)) == 120
    assert all(sent.count(line) >= 2 for line in set(sent))


def test_row_the_store_refuses_is_passed_over(records: Records) -> None:
    """It is counted; the others arrive, and the cursor goes on."""

    def judge(lines: list[str]) -> tuple[int, dict[str, str], str] | None:
        bad = any("outlet_us_cm=407.0" in line for line in lines)
        return (400, {}, "no such number") if bad else None

    with peers.front() as front:
        front.judge = judge
        took(records, "harbour-steps", 1, 20)
        with Feeder(records, options(front.url), pace=BRISK, now_ms=now_ms) as feeder:
            peers.eventually("the rest to be sent twice", lambda: feeder.status.done == 1)
            assert feeder.status.refused == 2
    assert len({line for line in front.lines if line.startswith("reading")}) == 19


def test_feeder_that_is_killed_goes_on_from_what_was_sent_twice(records: Records) -> None:
    """What was sent once is sent anew by the next one."""
    with peers.front() as front:
        took(records, "harbour-steps", 1, 5)
        first = carrier(records, front.url)
        assert first.turn()
        first.close()
        second = carrier(records, front.url)
        assert second.turn()
        until(lambda: second.turn() and len(front.lines) == 15)
        second.turn()
        second.close()
        third = carrier(records, front.url)
        assert not third.turn()
        third.close()
    assert reading(5).numbers["outlet_us_cm"] == 405.0


def carrier(records: Records, url: str) -> Carrier:
    """One at work, without a thread."""
    return Carrier(records, options(url, 0.1), now_ms, SeriesStatus())


def until(true: Callable[[], bool]) -> None:
    """Wait for something."""
    end = time.monotonic() + peers.PATIENCE_S
    while not true():
        assert time.monotonic() < end
        time.sleep(0.02)
