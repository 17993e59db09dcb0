"""Old readings give way by a stated rule; draws, estimates, alarms and facts never do."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from analytics.samples import DAY_MS, HOUR_MS, AlarmChange, Closure, Rows
from firmware_bridge.store.batch import Batch
from firmware_bridge.store.database import Store
from firmware_bridge.store.keeping import Keeping
from firmware_bridge.store.room import ballast_beside
from tests.firmware_bridge.store.stored import (
    HOUR_BEGIN_MS,
    asked,
    estimate,
    keep,
    some_rows,
    taken_of,
)
from tests.peers import eventually

pytestmark = pytest.mark.timeout(120)
END_MS = 1 << 60


def store_days(store: Store, rows: Rows, first: int = 1) -> None:
    """Rows in batches of some hours, with an alarm, a fact and an estimate a batch."""
    for place in range(0, len(rows), 5000):
        part = rows.cut(place, min(place + 5000, len(rows)))
        at = int(part.at_ms[0])
        batch = Batch(
            readings=(taken_of(part, first + place),),
            alarms=(("bar", _alarm(at)),),
            events=(Closure(at_ms=at, until_ms=at + 1, event_id=f"c{at}", line_id="bar"),),
            estimates=(("bar", estimate(at)),),
        )
        store.submit(batch).result(60)


def _alarm(at_ms: int) -> AlarmChange:
    return AlarmChange(at_ms=at_ms, alarm="data-gap", change="raised", priority="low", text="")


def thinned(store: Store) -> int:
    return store.reader().counters().get("rows_thinned", 0)


def test_old_rows_become_values_by_the_minute(tmp_path: Path) -> None:
    """Ten days at a row in ten seconds, seven kept: the rest is there by the minute, no pulse lost,
    counted, and the rows that are kept are the newest."""
    rows = some_rows(10 * 8640, every_ms=10_000)
    keeping = Keeping(rows_days=7.0)
    with Store.open(tmp_path / "a.db", site_id="s", keeping=keeping) as store:
        store_days(store, rows)
        before = store.reader().pulses_by_hour("bar", HOUR_BEGIN_MS, END_MS)
    with Store.open(tmp_path / "a.db", site_id="s", keeping=keeping) as store:
        tail = some_rows(1, begin_ms=HOUR_BEGIN_MS + 10 * DAY_MS)
        keep(store, taken_of(tail, len(rows) + 1))
        eventually("thinning", lambda: thinned(store) >= 3 * 8640 - 1000)
        reader = store.reader()
        kept = reader.rows("bar", 0, END_MS)
        from_ms = reader.rows_from_ms("bar")
        after = reader.pulses_by_hour("bar", HOUR_BEGIN_MS, HOUR_BEGIN_MS + 10 * DAY_MS)
        series = reader.series("bar", "outlet_us_cm", HOUR_BEGIN_MS, HOUR_BEGIN_MS + HOUR_MS, 900)

        assert int(kept.at_ms[0]) == from_ms
        assert len(kept) + thinned(store) == len(rows) + 1
        np.testing.assert_array_equal(before[1], after[1])
        assert series.width_ms == 60_000
        assert len(series) == 60
        assert reader.lines() == ("bar",)


def test_what_a_sink_still_waits_for_is_not_thinned_by_age(tmp_path: Path) -> None:
    """Old rows stay until the slowest configured sink has confirmed them."""
    rows = some_rows(10 * 1440, every_ms=60_000)
    keeping = Keeping(rows_days=7.0, sinks=("near", "far"))
    with Store.open(tmp_path / "a.db", site_id="s", keeping=keeping) as store:
        store_days(store, rows)
        store.outbox.settle("near", store.reader().newest(), {})
        store.outbox.settle("far", 1, {})
    with Store.open(tmp_path / "a.db", site_id="s", keeping=keeping) as store:
        keep(store, taken_of(some_rows(1, begin_ms=HOUR_BEGIN_MS + 10 * DAY_MS), 99_999))
        assert thinned(store) == 0
        store.outbox.settle("far", store.reader().newest(), {})
    with Store.open(tmp_path / "a.db", site_id="s", keeping=keeping) as store:
        keep(store, taken_of(some_rows(1, begin_ms=HOUR_BEGIN_MS + 10 * DAY_MS + 5), 100_000))
        eventually("thinning", lambda: thinned(store) > 4000)
        assert "rows_thinned_unsent" not in store.reader().counters()


def test_a_limit_makes_the_oldest_give_way_and_counts_what_was_not_sent(tmp_path: Path) -> None:
    """A file of three megabytes takes weeks of rows; what gave way unsent is counted, every
    alarm, fact and estimate is there, the newest rows too, and the numbers add up."""
    path = tmp_path / "a.db"
    rows = some_rows(40 * 8640, every_ms=10_000)
    keeping = Keeping(limit_bytes=3_000_000, sinks=("far",))
    with Store.open(path, site_id="s", keeping=keeping) as store:
        store_days(store, rows)
        reader = store.reader()
        counters = reader.counters()
        kept = reader.rows("bar", 0, END_MS)
        batches = -(-len(rows) // 5000)

        assert len(kept) + counters["rows_thinned"] == len(rows)
        assert counters["rows_thinned_unsent"] == counters["rows_thinned"] > 0
        assert int(kept.at_ms[-1]) == int(rows.at_ms[-1])
        assert len(reader.alarm_changes("bar")) == batches
        assert len(reader.events("bar")) == batches
        assert len(reader.estimates("bar", 0, END_MS)) == batches
        assert store.health.limit_bytes == 3_000_000
    total = sum(file.stat().st_size for file in tmp_path.iterdir())
    assert total <= 3_000_000
    assert asked(path, "PRAGMA integrity_check") == [("ok",)]


def test_late_rows_for_a_thinned_hour_are_added_to_its_minutes(tmp_path: Path) -> None:
    """They count in every sum, without their rows coming back."""
    rows = some_rows(12 * 8640, every_ms=10_000)
    late = np.arange(100, 200, dtype=np.int64)
    rest = np.concatenate((np.arange(100), np.arange(200, len(rows)))).astype(np.int64)
    keeping = Keeping(rows_days=7.0)
    with Store.open(tmp_path / "a.db", site_id="s", keeping=keeping) as store:
        store_days(store, rows.pick(rest), first=1000)
    with Store.open(tmp_path / "a.db", site_id="s", keeping=keeping) as store:
        keep(store, taken_of(some_rows(1, begin_ms=HOUR_BEGIN_MS + 12 * DAY_MS), 500_000))
        eventually("thinning", lambda: store.reader().rows_from_ms("bar") > HOUR_BEGIN_MS)
        for place in (100, 150):
            keep(store, taken_of(rows.cut(place, place + 50), 600_000 + place))
        reader = store.reader()
        pulses = reader.pulses_by_hour("bar", HOUR_BEGIN_MS, HOUR_BEGIN_MS + HOUR_MS)[1]
        minutes = reader.series("bar", "pulses", HOUR_BEGIN_MS, HOUR_BEGIN_MS + HOUR_MS, 60)
        truth = rows.cut(0, 360)

        assert pulses.tolist() == [int(np.maximum(truth.pulses, 0).sum())]
        assert int(minutes.count.sum()) == np.count_nonzero(truth.pulses >= 0)
        assert len(reader.rows("bar", int(rows.at_ms[late[0]]), int(rows.at_ms[late[-1]]))) == 0


def test_the_ballast_lies_beside_the_file(tmp_path: Path) -> None:
    """Room to let go of when the disk is full, for its owner alone."""
    path = tmp_path / "a.db"
    with Store.open(path, site_id="s", keeping=Keeping()) as store:
        keep(store, taken_of(some_rows(1)))
        ballast = eventually("ballast", lambda: [p for p in [ballast_beside(path)] if p.exists()])
        assert ballast[0].stat().st_mode & 0o077 == 0
