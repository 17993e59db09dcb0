"""What sinks get: every row once, in the order of its number, and where each sink stands."""

from __future__ import annotations

import math
import sqlite3
from contextlib import closing
from pathlib import Path

import numpy as np
import pytest

from analytics.samples import AlarmChange, BypassSet, CartridgeFitted
from firmware_bridge.store.batch import Batch
from firmware_bridge.store.database import Store
from firmware_bridge.store.out_row import OutRow
from tests.bench.store import day_of_draws
from tests.firmware_bridge.store.stored import (
    HOUR_BEGIN_MS,
    estimate,
    keep,
    one_by_one,
    some_rows,
    taken_of,
    unsure,
)


def filled(path: Path) -> Store:
    """A store with 200 rows over four hours and one of each other kind among them."""
    store = Store.open(path, site_id="s")
    rows = some_rows(200, every_ms=70_000)
    one_by_one(store, rows.cut(0, 100), 1, 7)
    change = AlarmChange(at_ms=5, alarm="leak", change="raised", priority="high", text="Runs.")
    store.submit(
        Batch(
            draws=(("bar", "c1", day_of_draws(0, np.random.default_rng(4)).cut(0, 3)),),
            estimates=(("bar", estimate(HOUR_BEGIN_MS)),),
            events=(
                BypassSet(at_ms=6, share=0.3, line_id="bar", event_id="b1", who="Ines"),
                CartridgeFitted(at_ms=7, cartridge_id="c9", event_id="f1"),
            ),
            alarms=(("bar", change),),
        )
    ).result(20)
    keep(store, taken_of(rows.cut(150, 200), 151))
    keep(store, taken_of(rows.cut(100, 150), 101))
    return store


@pytest.mark.parametrize("limit", [1, 7, 60])
def test_numbers_that_were_passed_over_hold_nothing_up(tmp_path: Path, limit: int) -> None:
    """Where numbering went on far above (a file that was rescued), the rows beyond still come.

    Rows from before and after lie in the same hour, and so in the same block.
    """
    path = tmp_path / "site.db"
    rows = some_rows(500, every_ms=10_000)
    with Store.open(path, site_id="s") as store:
        one_by_one(store, rows.cut(0, 100), 1, 7)
    with closing(sqlite3.connect(path)) as file, file:
        file.execute("UPDATE site SET newest_seq = 1000000000")
    with Store.open(path, site_id="s") as store:
        one_by_one(store, rows.cut(100, 500), 101, 7)
        seen: list[int] = []
        while found := store.outbox.read(seen[-1] if seen else 0, limit):
            seen += [row.seq for row in found]

    assert seen == [*range(1, 101), *range(1_000_000_001, 1_000_000_401)]


@pytest.mark.parametrize("limit", [1, 7, 60, 1000])
def test_rows_come_in_the_order_of_their_numbers(tmp_path: Path, limit: int) -> None:
    """Over all kinds, without gap or double, at most as many as asked for at a time."""
    with filled(tmp_path / "site.db") as store:
        outbox, found = store.outbox, list[OutRow]()
        while rows := outbox.read(found[-1].seq if found else 0, limit):
            assert len(rows) <= limit
            found += rows
        assert [row.seq for row in found] == list(range(1, 208))
        assert outbox.newest() == 207
        kinds = [row.kind for row in found[100:107]]
        assert kinds == ["draw"] * 3 + ["estimate", "event", "event", "alarm"]


def test_rows_hold_finite_numbers_and_say_what_they_are(tmp_path: Path) -> None:
    """Units in the names, blanks left out, words apart from numbers."""
    with filled(tmp_path / "site.db") as store:
        found = store.outbox.read(0, 300)
    assert all(math.isfinite(value) for row in found for value in row.numbers.values())
    assert all(word for row in found for word in row.words.values())
    reading, draw, shown, event, fitted, alarm = (found[n] for n in (0, 100, 103, 104, 105, 106))
    assert (reading.kind, reading.line_id, reading.at_ms) == ("reading", "bar", HOUR_BEGIN_MS)
    assert reading.numbers["outlet_us_cm"] == pytest.approx(240, abs=2)
    assert draw.cartridge_id == "c1"
    assert {"end_ms", "pulses", "outlet_ec25_us_cm"} <= set(draw.numbers)
    assert shown.numbers["remaining_l_p05"] == pytest.approx(810.0)
    assert shown.numbers["trusted"] == 1
    assert "carbon_left_l" not in shown.numbers
    assert shown.words["ends_by"] == "capacity"
    assert len(event.words["digest"]) == 64
    assert event.words == {
        "event": "bypass-set", "event_id": "b1", "who": "Ines", "digest": event.words["digest"],
    }  # fmt: skip
    assert event.numbers["share"] == 0.3
    assert fitted.cartridge_id == "c9"
    assert alarm.words["change"] == "raised"


def test_a_blank_or_missing_count_is_not_sent(tmp_path: Path) -> None:
    """Numbers of a row are exactly what was read."""
    rows = some_rows(400)
    with Store.open(tmp_path / "site.db", site_id="s") as store:
        keep(store, taken_of(rows))
        sent = store.outbox.read(0, 400)
    blanks = sum("outlet_us_cm" not in row.numbers for row in sent)
    assert blanks == sum(math.isnan(value) for value in rows.outlet_us_cm) > 0
    assert sum("pulses" not in row.numbers for row in sent) == (rows.pulses < 0).sum() > 0


def test_a_sink_goes_on_where_it_was(tmp_path: Path) -> None:
    """Cursors are kept by sink, over restarts, and may go back."""
    path = tmp_path / "site.db"
    with filled(path) as store:
        assert store.outbox.cursor("mqtt") == 0
        store.outbox.settle("mqtt", 150, {})
        store.outbox.settle("lines", 20, {})
        store.outbox.settle("mqtt", 90, {})
    with Store.open(path, site_id="s") as store:
        assert (store.outbox.cursor("mqtt"), store.outbox.cursor("lines")) == (90, 20)
        assert store.reader().cursors() == {"lines": 20, "mqtt": 90}


def test_refused_rows_are_kept_aside_with_the_reason(tmp_path: Path) -> None:
    """The cursor moves past them in the same step; the row can be looked at later."""
    with filled(tmp_path / "site.db") as store:
        outbox = store.outbox
        outbox.settle("lines", 110, {3: "value out of range", 104: "unknown field"})
        aside = store.reader().rejected("lines")
        assert [(entry.seq, entry.reason) for entry in aside] == [
            (3, "value out of range"),
            (104, "unknown field"),
        ]
        assert [entry.row for entry in aside] == [*outbox.read(2, 1), *outbox.read(103, 1)]
        assert outbox.cursor("lines") == 110
        with pytest.raises(ValueError, match="999"):
            outbox.settle("lines", 999, {999: "never was"})
        assert outbox.cursor("lines") == 110


def test_rows_without_a_sure_date_wait_until_they_have_one(tmp_path: Path) -> None:
    """What comes after them waits too; once dated, all leave under their true instants."""
    with Store.open(tmp_path / "site.db", site_id="s") as store:
        early = unsure(some_rows(20, begin_ms=1000))
        keep(store, taken_of(some_rows(5), boot_id=6))
        keep(store, taken_of(early, uptime_ms=early.at_ms))
        store.submit(Batch(events=(BypassSet(at_ms=9, share=0.1),))).result(20)
        outbox = store.outbox
        assert [row.seq for row in outbox.read(0, 100)] == [1, 2, 3, 4, 5]
        assert outbox.read(5, 100) == []
        store.redate("bar", 7, HOUR_BEGIN_MS).result(20)
        sent = outbox.read(5, 100)
        assert [row.seq for row in sent] == list(range(6, 27))
        assert all(row.at_ms >= HOUR_BEGIN_MS for row in sent[:20])
        assert all("flags" not in row.numbers for row in sent[:20])


def test_reading_on_while_rows_are_joined_loses_none(tmp_path: Path) -> None:
    """A sink that follows closely sees every row although tails become parts and hours."""
    rows = some_rows(600, every_ms=10_000)
    with Store.open(tmp_path / "site.db", site_id="s") as store:
        outbox, seen = store.outbox, list[OutRow]()
        for place in range(600):
            keep(store, taken_of(rows.cut(place, place + 1), place + 1))
            seen += outbox.read(seen[-1].seq if seen else 0, 50)
        assert [row.seq for row in seen] == list(range(1, 601))
        assert [row.at_ms for row in seen] == rows.at_ms.tolist()


def test_estimates_of_one_instant_are_counted_as_revisions(tmp_path: Path) -> None:
    """Each estimate says how many of its line and instant came before it, for ever the same."""
    with Store.open(tmp_path / "site.db", site_id="s") as store:
        made = [(10, 10), (20, 20), (10, 30), (20, 30), (30, 31), (10, 40)]
        for at_ms, known_ms in made:
            batch = Batch(estimates=(("bar", estimate(at_ms, known_ms, litres=known_ms)),))
            store.submit(batch).result(20)
        store.submit(Batch(estimates=(("mill", estimate(10, 10)),))).result(20)
        rows = store.outbox.read(0, 100)
        later = store.outbox.read(4, 100)

    assert [(row.line_id, row.at_ms, row.revision) for row in rows] == [
        ("bar", 10, 0), ("bar", 20, 0), ("bar", 10, 1), ("bar", 20, 1), ("bar", 30, 0),
        ("bar", 10, 2), ("mill", 10, 0),
    ]  # fmt: skip
    assert later == rows[4:]
