"""Rows from before the clock was right get their instant later, none lost."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from analytics.samples import HOUR_MS, Flag
from firmware_bridge.store.database import Store
from tests.firmware_bridge.store.stored import (
    HOUR_BEGIN_MS,
    assert_same_rows,
    keep,
    levels,
    shifted,
    some_rows,
    taken_of,
    unsure,
)

FAR_MS = 1 << 60


def test_a_boot_in_1970_is_dated_once_the_time_is_known(tmp_path: Path) -> None:
    """Three hours stored as 1970 move to where they were; nothing stays behind, charts included."""
    path = tmp_path / "site.db"
    right = some_rows(200, every_ms=60_000)
    uptime_ms = right.at_ms - HOUR_BEGIN_MS + 90_000
    wrong = unsure(shifted(right, -HOUR_BEGIN_MS))
    with Store.open(path, site_id="s") as store:
        keep(store, taken_of(wrong, uptime_ms=uptime_ms))
        dated = store.redate("bar", 7, HOUR_BEGIN_MS - 90_000).result(20)
        reader = store.reader()
        assert dated == 200
        assert_same_rows(right, reader.rows("bar", -FAR_MS, FAR_MS))
        series = reader.series("bar", "outlet_us_cm", 0, HOUR_BEGIN_MS + 9 * HOUR_MS, 1000)
        assert series.count.sum() == np.isfinite(right.outlet_us_cm).sum()
        assert series.at_ms.min() > HOUR_BEGIN_MS - series.width_ms
        assert reader.boots()[0].offset_ms == HOUR_BEGIN_MS - 90_000
        assert keep(store, taken_of(wrong, uptime_ms=uptime_ms)).doubled == 200


def test_only_unsure_rows_of_that_boot_move(tmp_path: Path) -> None:
    """Rows stored with a good clock, and those of another boot in the same hour, stay."""
    with Store.open(tmp_path / "site.db", site_id="s") as store:
        good = some_rows(50)
        wrong = unsure(shifted(some_rows(50, seed=2), 100_000))
        other = unsure(shifted(some_rows(50, seed=3), 200_000))
        uptime_ms = np.arange(50, dtype=np.int64) * 1000
        keep(store, taken_of(good), taken_of(wrong, 51, uptime_ms=uptime_ms))
        keep(store, taken_of(other, boot_id=8, uptime_ms=uptime_ms))
        assert store.redate("bar", 7, HOUR_BEGIN_MS + 5 * HOUR_MS).result(20) == 50
        reader = store.reader()
        assert_same_rows(good, reader.rows("bar", HOUR_BEGIN_MS, HOUR_BEGIN_MS + 100_000))
        moved = reader.rows("bar", HOUR_BEGIN_MS + 5 * HOUR_MS, FAR_MS)
        np.testing.assert_array_equal(moved.outlet_us_cm, wrong.outlet_us_cm)
        assert not (moved.flags & Flag.CLOCK_UNSURE).any()
        stayed = reader.rows("bar", HOUR_BEGIN_MS + 200_000, HOUR_BEGIN_MS + HOUR_MS)
        assert (stayed.flags & Flag.CLOCK_UNSURE).all()
        assert len(stayed) == 50


def test_a_best_guess_stays_flagged(tmp_path: Path) -> None:
    """Where the true time will never be known the rows are placed, and say that they are unsure."""
    with Store.open(tmp_path / "site.db", site_id="s") as store:
        rows = unsure(some_rows(10, begin_ms=0))
        keep(store, taken_of(rows, uptime_ms=rows.at_ms))
        assert store.redate("bar", 7, HOUR_BEGIN_MS, sure=False).result(20) == 10
        found = store.reader().rows("bar", HOUR_BEGIN_MS, FAR_MS)
        assert (found.flags & Flag.DATE_GUESSED).all()
        assert len(found) == 10


def test_dating_a_boot_that_was_never_seen_moves_nothing(tmp_path: Path) -> None:
    """0 rows, and the store goes on."""
    with Store.open(tmp_path / "site.db", site_id="s") as store:
        assert store.redate("bar", 99, 5).result(20) == 0
        assert keep(store, taken_of(some_rows(3))).last_seq == 3


def test_ten_reboots_before_the_time_is_known(tmp_path: Path) -> None:
    """Every boot begins in 1970 again; each is dated by its own offset, in order and complete."""
    path = tmp_path / "site.db"
    with Store.open(path, site_id="s") as store:
        for boot in range(10):
            rows = unsure(some_rows(30, begin_ms=2000, every_ms=60_000, seed=boot))
            keep(store, taken_of(rows, boot_id=boot, uptime_ms=rows.at_ms))
        for boot in range(10):
            store.redate("bar", boot, HOUR_BEGIN_MS + boot * HOUR_MS).result(20)
        reader = store.reader()
        for boot in range(10):
            begin = HOUR_BEGIN_MS + boot * HOUR_MS
            expected = some_rows(30, begin_ms=begin + 2000, every_ms=60_000, seed=boot)
            assert_same_rows(expected, reader.rows("bar", begin, begin + HOUR_MS))
        assert len(reader.rows("bar", 0, HOUR_BEGIN_MS)) == 0
        assert [row.seq for row in store.outbox.read(0, 400)] == list(range(1, 301))
    assert sum(rows for _, rows in levels(path).values()) == 300
