"""Draws, estimates, events, alarm changes, snapshots and counters come back as they were."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from analytics.errors import StoreError
from analytics.samples import (
    DAY_MS,
    DRAW_COLUMNS,
    Acknowledged,
    AlarmChange,
    AnyEvent,
    BypassSet,
    CartridgeFitted,
    Closure,
    CrossZero,
    DropTest,
    KFactorSet,
    MeterReading,
    Point,
    ProbeCalibrated,
    Shelved,
    UtilityReport,
    Withdrawn,
)
from firmware_bridge.store.batch import Batch
from firmware_bridge.store.database import Store
from firmware_bridge.store.snapshots import WEEK_MS, worth_keeping
from tests.bench.store import BEGIN_MS, day_of_draws
from tests.firmware_bridge.store.stored import HOUR_BEGIN_MS, estimate

FAR_MS = 1 << 60

EVENTS: tuple[AnyEvent, ...] = (
    DropTest(at_ms=1, point=Point.BLENDED, hardness_mmol_l=0.9, line_id="bar", event_id="d1"),
    CartridgeFitted(at_ms=2, cartridge_id="c1", litres_before=None, who="Ines", event_id="f1"),
    BypassSet(at_ms=3, share=0.2, line_id="bar", event_id="b1", note="eighth of a turn"),
    KFactorSet(at_ms=4, pulses_per_l=1380.0, event_id="k1"),
    ProbeCalibrated(at_ms=5, probe="outlet", gain=1.013, event_id="p1"),
    CrossZero(at_ms=6, outlet_us_cm=505.1, outlet_temp_c=14.2, inlet_us_cm=511.0, event_id="z1"),
    UtilityReport(at_ms=7, hardness_mmol_l=3.0, ec25_us_cm=560.0, event_id="u1"),
    MeterReading(at_ms=8, litres=10423.5, event_id="m1"),
    Closure(at_ms=9, until_ms=99, event_id="s1"),
    Acknowledged(at_ms=10, alarm="litres-low", line_id="bar", event_id="a1"),
    Shelved(at_ms=11, alarm="leak", until_ms=500, note="plumber comes", event_id="h1"),
    Withdrawn(at_ms=12, withdraws="k1", known_at_ms=77, event_id="w1"),
)


def submit(store: Store, batch: Batch) -> tuple[int, int]:
    """Store a batch; the numbers it got."""
    stored = store.submit(batch).result(20)
    return stored.first_seq, stored.last_seq


def test_draws_come_back(tmp_path: Path) -> None:
    """Every column, NaN included; a draw handed in again is counted, not stored."""
    rng = np.random.default_rng(1)
    drawn = day_of_draws(0, rng)
    drawn.inlet_ec25_us_cm[::7] = np.nan
    with Store.open(tmp_path / "site.db", site_id="s") as store:
        submit(store, Batch(draws=(("bar", "c1", drawn.cut(0, 200)),)))
        submit(store, Batch(draws=(("bar", "c2", drawn),)))
        reader = store.reader()
        found = reader.draws("bar", 0, FAR_MS)
        for name in DRAW_COLUMNS:
            np.testing.assert_array_equal(getattr(found, name), getattr(drawn, name))
        assert reader.counters()["draws_doubled"] == 200
        assert len(reader.draws("bar", 0, FAR_MS, "c2")) == len(drawn) - 200
        middle = int(drawn.start_ms[100])
        assert len(reader.draws("bar", 0, middle)) == 100
        assert len(reader.draws("bar", BEGIN_MS + DAY_MS, FAR_MS)) == 0
        assert len(reader.draws("roastery", 0, FAR_MS)) == 0


def test_the_estimate_of_then_is_kept_beside_the_one_of_now(tmp_path: Path) -> None:
    """A drop test entered late: what was shown is still told, what is known now goes first."""
    first = [estimate(at, litres=1000 - at) for at in (10, 20, 30, 40)]
    again = [estimate(at, 45, litres=500 - at) for at in (20, 25, 40)]
    live = estimate(50, 51, litres=400)
    with Store.open(tmp_path / "site.db", site_id="s") as store:
        for entry in (*first, *again, live):
            submit(store, Batch(estimates=(("bar", entry),)))
        reader = store.reader()
        assert reader.latest_estimate("bar") == live
        assert reader.estimates("bar", 0, FAR_MS) == [first[0], *again, live]
        assert reader.estimates("bar", 21, 45) == again[1:]
        assert reader.estimate_as_known("bar", 30, 44) == first[2]
        assert reader.estimate_as_known("bar", 30, 46) == again[1]
        assert reader.estimate_as_known("bar", 9, 46) is None
        assert reader.latest_estimate("roastery") is None


def test_an_estimate_handed_in_again_is_stored_once(tmp_path: Path) -> None:
    """After a restart the pipeline gives the same ones again; only different ones are new."""
    with Store.open(tmp_path / "site.db", site_id="s") as store:
        batch = Batch(estimates=(("bar", estimate(5)), ("bar", estimate(6))))
        assert submit(store, batch) == (1, 2)
        assert submit(store, batch) == (3, 2)
        assert submit(store, Batch(estimates=(("bar", estimate(6, litres=1.0)),))) == (3, 3)
        assert store.reader().counters()["estimates_doubled"] == 2


def test_events_of_every_kind_come_back(tmp_path: Path) -> None:
    """All twelve, with their type, in order of their date."""
    path = tmp_path / "site.db"
    with Store.open(path, site_id="s") as store:
        submit(store, Batch(events=EVENTS[::-1]))
    with Store.open(path, site_id="s") as store:
        history = store.reader().event_history()
        assert [entry.event for entry in history] == list(EVENTS)
        assert [entry.event.event_id for entry in history if entry.withdrawn] == ["k1"]
        assert [event.event_id for event in store.reader().events()] == [
            event.event_id for event in EVENTS if event.event_id != "k1"
        ]


def test_events_are_asked_for_by_line_and_date(tmp_path: Path) -> None:
    """A line's own events and those of the whole site, not another line's."""
    other = BypassSet(at_ms=3, share=0.5, line_id="roastery", event_id="r1")
    with Store.open(tmp_path / "site.db", site_id="s") as store:
        submit(store, Batch(events=(*EVENTS, other)))
        found = store.reader().events("bar", 2, 5)
        assert [event.event_id for event in found] == ["f1", "b1"]


def test_an_event_is_stored_once(tmp_path: Path) -> None:
    """The same id again is counted and dropped; without an id it gets one from its number."""
    with Store.open(tmp_path / "site.db", site_id="s") as store:
        submit(store, Batch(events=EVENTS[:3]))
        assert submit(store, Batch(events=EVENTS[:4])) == (4, 4)
        submit(store, Batch(events=(BypassSet(at_ms=8, share=0.1),)))
        reader = store.reader()
        assert reader.counters()["events_doubled"] == 3
        assert reader.event_known("k1")
        assert reader.event_known("e5")
        assert not reader.event_known("e4")


def test_an_undo_may_come_before_what_it_undoes(tmp_path: Path) -> None:
    """Stored in either order, the event does not hold."""
    with Store.open(tmp_path / "site.db", site_id="s") as store:
        submit(store, Batch(events=(EVENTS[-1],)))
        submit(store, Batch(events=(EVENTS[3],)))
        assert [entry.withdrawn for entry in store.reader().event_history()] == [True, False]


def test_an_event_without_a_finite_value_is_refused(tmp_path: Path) -> None:
    """StoreError names what is wrong; the rest of the day goes on."""
    with Store.open(tmp_path / "site.db", site_id="s") as store:
        future = store.submit(Batch(events=(BypassSet(at_ms=1, share=float("nan")),)))
        with pytest.raises(StoreError, match="share"):
            future.result(20)
        assert submit(store, Batch(events=EVENTS[:1])) == (1, 1)


def test_alarm_changes_come_back(tmp_path: Path) -> None:
    """In the order they were stored; the very same change again is stored once."""
    changes = [
        AlarmChange(at_ms=at, alarm="leak", change=change, priority="high", text="Water runs.")
        for at, change in ((5, "raised"), (9, "acknowledged"), (12, "cleared"))
    ]
    with Store.open(tmp_path / "site.db", site_id="s") as store:
        submit(store, Batch(alarms=tuple(("bar", change) for change in changes)))
        submit(store, Batch(alarms=(("bar", changes[0]), ("roastery", changes[0]))))
        reader = store.reader()
        assert [entry.change for entry in reader.alarm_changes("bar")] == changes
        assert [entry.line_id for entry in reader.alarm_changes()] == ["bar"] * 3 + ["roastery"]
        assert [entry.seq for entry in reader.alarm_changes(None, 6, 12)] == [2]


def test_snapshots_are_found_by_instant(tmp_path: Path) -> None:
    """The newest at or before; one that the past made void is gone before the new one is kept."""
    with Store.open(tmp_path / "site.db", site_id="s") as store:
        submit(store, Batch(snapshots=(("bar", 10, b"ten"), ("bar", 20, b"twenty" * 999))))
        reader = store.reader()
        assert reader.snapshot_before("bar", 19) == (10, b"ten")
        assert reader.snapshot_before("bar", 20) == (20, b"twenty" * 999)
        assert reader.snapshot_before("bar", 9) is None
        submit(store, Batch(forget_snapshots=(("bar", 15),), snapshots=(("bar", 30, b"thirty"),)))
        assert reader.snapshot_before("bar", 29) == (10, b"ten")
        assert reader.snapshot_before("bar", 99) == (30, b"thirty")


def test_few_snapshots_are_kept(tmp_path: Path) -> None:
    """A year of one an hour: the last three and the first of every week."""
    with Store.open(tmp_path / "site.db", site_id="s") as store:
        instants = [HOUR_BEGIN_MS + day * DAY_MS for day in range(100)]
        for at_ms in instants:
            submit(store, Batch(snapshots=(("bar", at_ms, str(at_ms).encode()),)))
        reader = store.reader()
        for at_ms in instants:
            found = reader.snapshot_before("bar", at_ms)
            assert found is not None or at_ms < instants[7]
            assert found is None or at_ms - found[0] < WEEK_MS
            assert found is None or found[1] == str(found[0]).encode()
    held = worth_keeping(list(reversed(range(0, 80 * WEEK_MS, DAY_MS))))
    assert len(held) <= 63
    assert max(held) == 80 * WEEK_MS - DAY_MS


def test_counters_add_up_over_restarts(tmp_path: Path) -> None:
    """What was refused is counted for the life of the site."""
    for _ in range(2):
        with Store.open(tmp_path / "site.db", site_id="s") as store:
            submit(store, Batch(counters={"frames_bad": 3, "lines_bad": 0}))
            submit(store, Batch(counters={"frames_bad": 1}))
            found = store.reader().counters()
    assert found == {"frames_bad": 8}


def test_numbers_run_on_without_gaps(tmp_path: Path) -> None:
    """Over kinds, failures and restarts every stored row has the next number."""
    path = tmp_path / "site.db"
    with Store.open(path, site_id="s") as store:
        assert submit(store, Batch(events=EVENTS[:2], estimates=(("bar", estimate(5)),))) == (1, 3)
        store.submit(Batch(events=(BypassSet(at_ms=1, share=float("inf")),))).exception(20)
    with Store.open(path, site_id="s") as store:
        assert submit(store, Batch(events=EVENTS[2:4])) == (4, 5)
        assert [row.seq for row in store.outbox.read(0, 99)] == [1, 2, 3, 4, 5]
