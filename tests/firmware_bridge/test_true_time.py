"""Time as a field problem: what was read before anybody knew it is dated, not lost."""

from __future__ import annotations

import os
import time
from pathlib import Path

import numpy as np
import pytest

from analytics.samples import DAY_MS, HOUR_MS, MINUTE_MS, CartridgeFitted, Flag
from firmware_bridge.true_time import LONGEST_WAIT_MS
from tests.firmware_bridge.box import Box, HandClock

pytestmark = pytest.mark.timeout(120)

TRUE_MS = 1_780_000_000_000
"""2026-05-28, when the box is switched on."""
UNSURE = int(Flag.CLOCK_UNSURE)
GUESSED = int(Flag.DATE_GUESSED)


async def test_a_boot_in_1970_and_the_time_after_an_hour(tmp_path: Path) -> None:
    """An hour of rows waits, no sink gets it; then it has its true instants, and counts."""
    box = Box(tmp_path / "a.db", HandClock(wall_ms=3000), "start-1", boot=7)
    await box.begin(when_known=lambda: (_fitted(box),))
    began = box.clock.since_start_ms
    await box.live(60)
    waiting = box.rows()
    assert (waiting.flags & UNSURE).all()
    assert waiting.at_ms.min() > 1_700_000_000_000
    assert box.sent() == 0
    box.clock.wall_ms = TRUE_MS + box.clock.since_start_ms - began
    await box.live(5)
    await box.loop.mend_now()
    rows = box.rows()

    assert len(rows) == 65
    assert not (rows.flags & (UNSURE | GUESSED)).any()
    expected = TRUE_MS + np.arange(1, 66) * MINUTE_MS
    assert np.abs(rows.at_ms - expected).max() <= 1
    assert box.sent() == 65
    fitted = box.store.reader().events("bar")
    assert [event.at_ms for event in fitted] == [TRUE_MS]
    assert int(box.store.reader().draws("bar", 0, 1 << 60).pulses.sum()) > 0
    box.off()


def _fitted(box: Box) -> CartridgeFitted:
    return CartridgeFitted(at_ms=box.by.began_ms(), event_id="start-bar", litres_before=0.0)


async def test_ten_reboots_before_the_time_is_ever_known(tmp_path: Path) -> None:
    """Box and node start ten times in 1970: rows of the last start get their true instants, the
    others are placed before them, in order, flagged as guessed; none is lost or sent undated."""
    path = tmp_path / "a.db"
    for start in range(10):
        box = Box(path, HandClock(wall_ms=3000), f"start-{start}", boot=100 + start)
        await box.begin()
        await box.live(12)
        assert box.sent() == 0
        box.off()
    box = Box(path, HandClock(wall_ms=3000), "start-10", boot=110)
    await box.begin()
    await box.live(6)
    box.clock.wall_ms = TRUE_MS
    await box.live(6)
    rows = box.rows()

    assert len(rows) == 132
    assert (np.diff(rows.at_ms) > 0).all()
    assert not (rows.flags & UNSURE).any()
    assert (rows.flags & GUESSED).astype(bool).sum() == 120
    assert not (rows.flags[120:] & GUESSED).any()
    assert int(rows.at_ms[-1]) == TRUE_MS + 6 * MINUTE_MS
    assert TRUE_MS - int(rows.at_ms[0]) < 4 * HOUR_MS
    assert box.sent() == 132
    box.off()


async def test_after_a_week_without_the_time_rows_are_sent_flagged(tmp_path: Path) -> None:
    """Never is worse than guessed: what waits goes out, says that its date is a guess, and what
    comes after does the same, until the time is known."""
    box = Box(tmp_path / "a.db", HandClock(wall_ms=3000), "start-1", boot=7)
    await box.begin()
    hours = LONGEST_WAIT_MS // HOUR_MS
    await box.live(hours - 2, every_ms=HOUR_MS)
    assert box.sent() == 0
    await box.live(6, every_ms=HOUR_MS)
    rows = box.rows()
    assert box.sent() == len(rows) == hours + 4
    assert (rows.flags & GUESSED).all()
    assert not (rows.flags & UNSURE).any()
    box.clock.wall_ms = TRUE_MS
    await box.live(3, every_ms=HOUR_MS)
    last = box.rows()

    assert (last.flags[-3:] == 0).all()
    assert int(last.at_ms[-1]) == TRUE_MS + 3 * HOUR_MS
    assert box.sent() == len(last)
    box.off()


async def test_a_daemon_started_again_after_that_week_goes_on_guessing(tmp_path: Path) -> None:
    """It does not wait for another week: the machine has not been switched off."""
    path, clock = tmp_path / "a.db", HandClock(wall_ms=3000)
    box = Box(path, clock, "start-1", boot=7)
    await box.begin()
    await box.live(LONGEST_WAIT_MS // HOUR_MS + 3, every_ms=HOUR_MS)
    sent = box.sent()
    box.off()
    again = Box(path, clock, "start-1", boot=8)
    await again.begin()
    await again.live(5, every_ms=HOUR_MS)
    rows = again.rows()

    assert again.sent() == sent + 5
    assert (rows.flags & GUESSED).all()
    assert (np.diff(rows.at_ms) > 0).all()
    again.off()


async def test_a_step_back_of_two_hours_never_runs_time_backwards(tmp_path: Path) -> None:
    """The clock is set back under a running site: rows keep their order, none is lost, and after
    some hours their instants are the clock's again."""
    box = Box(tmp_path / "a.db", HandClock(wall_ms=TRUE_MS), "start-1", boot=7)
    await box.begin()
    await box.live(60)
    box.clock.wall_ms -= 2 * HOUR_MS
    await box.live(360)
    rows = box.rows()

    assert len(rows) == 420
    assert (np.diff(rows.at_ms) > 0).all()
    assert abs(int(rows.at_ms[-1]) - box.clock.wall_ms) < MINUTE_MS
    assert box.sent() == 420
    box.off()


async def test_a_step_forward_of_a_day_is_taken_at_once(tmp_path: Path) -> None:
    """The next row has the new day's instant."""
    box = Box(tmp_path / "a.db", HandClock(wall_ms=TRUE_MS), "start-1", boot=7)
    await box.begin()
    await box.live(10)
    box.clock.wall_ms += DAY_MS
    await box.live(15)
    rows = box.rows()

    assert len(rows) == 25
    assert (np.diff(rows.at_ms) > 0).all()
    assert abs(int(rows.at_ms[-1]) - box.clock.wall_ms) < MINUTE_MS
    assert box.sent() == 25
    box.off()


async def test_a_restart_behind_the_newest_row_waits_to_be_believed(tmp_path: Path) -> None:
    """A box without a battery begins an hour back: its rows come after those stored, unsure, and
    get their instants when the network has set the clock."""
    path = tmp_path / "a.db"
    box = Box(path, HandClock(wall_ms=TRUE_MS), "start-1", boot=7)
    await box.begin()
    await box.live(10)
    newest = int(box.rows().at_ms[-1])
    box.off()
    box = Box(path, HandClock(wall_ms=TRUE_MS - HOUR_MS), "start-2", boot=8)
    await box.begin()
    await box.live(5)
    assert not box.by.is_sane()
    assert int(box.rows().at_ms[10]) > newest
    assert box.sent() == 10
    box.clock.wall_ms, box.clock.confirmed = TRUE_MS + 3 * HOUR_MS, True
    await box.live(5)
    rows = box.rows()

    assert not (rows.flags & (UNSURE | GUESSED)).any()
    expected = TRUE_MS + 3 * HOUR_MS + np.arange(-4, 6) * MINUTE_MS
    assert np.abs(rows.at_ms[10:] - expected).max() <= 1
    assert box.sent() == 20
    box.off()


async def test_a_daemon_that_starts_again_keeps_what_it_knew(tmp_path: Path) -> None:
    """In one start of the machine the clock was believed: a new daemon believes it at once; and
    rows that wait are dated by the daemon after the one that stored them."""
    path = tmp_path / "a.db"
    clock = HandClock(wall_ms=3000)
    box = Box(path, clock, "start-1", boot=7)
    await box.begin()
    await box.live(5)
    seq, pulses = box.seq, box.pulses
    box.off()
    again = Box(path, clock, "start-1", boot=7)
    again.node_began_ms = box.node_began_ms
    again.seq, again.pulses = seq, pulses
    clock.wall_ms = TRUE_MS
    await again.begin()
    await again.live(5)
    rows = again.rows()

    assert len(rows) == 10
    expected = TRUE_MS + np.arange(-4, 6) * MINUTE_MS
    assert np.abs(rows.at_ms - expected).max() <= 1
    assert again.by.is_sane()
    again.off()


async def test_rows_made_just_before_the_time_was_known_are_dated_too(tmp_path: Path) -> None:
    """They reach the store when the clock is believed already: nothing stays behind."""
    box = Box(tmp_path / "a.db", HandClock(wall_ms=3000), "start-1", boot=7)
    await box.begin()
    await box.live(5)
    await box.live(1, turn=False)
    box.clock.wall_ms = TRUE_MS
    await box.loop.turn()
    await box.live(3)

    assert not (box.rows().flags & UNSURE).any()
    assert box.sent() == 9
    box.off()


@pytest.mark.parametrize("night", ["2026-03-28T23:30", "2026-10-24T23:30"])
async def test_daylight_saving_moves_no_row(
    tmp_path: Path, night: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Over both nights in a town that changes its clocks: a row a minute, minute by minute."""
    monkeypatch.setitem(os.environ, "TZ", "Europe/London")
    time.tzset()
    begin = int(np.datetime64(night, "ms").astype(np.int64))
    box = Box(tmp_path / "a.db", HandClock(wall_ms=begin), "start-1", boot=7)
    await box.begin()
    await box.live(180)
    rows = box.rows()
    box.off()
    monkeypatch.undo()
    time.tzset()

    assert (np.diff(rows.at_ms) == MINUTE_MS).all()
    assert not rows.flags.any()
