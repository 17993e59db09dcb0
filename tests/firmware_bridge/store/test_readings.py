"""Rows through the store: in hours, late, doubled, from several lines and boots."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from analytics.samples import HOUR_MS, ROW_COLUMNS, Rows
from firmware_bridge.store.batch import Batch
from firmware_bridge.store.blocks import rows_at
from firmware_bridge.store.database import Store
from tests.firmware_bridge.store.stored import (
    HOUR_BEGIN_MS,
    assert_same_rows,
    keep,
    levels,
    one_by_one,
    shifted,
    some_rows,
    taken_of,
)

FAR_MS = 1 << 60


def test_an_hour_over_becomes_one_block(tmp_path: Path) -> None:
    """Row by row over two hours' end: packed hours, and few small pieces of the open one."""
    path = tmp_path / "site.db"
    rows = some_rows(400, every_ms=20_000)
    with Store.open(path, site_id="s") as store:
        one_by_one(store, rows)
        assert_same_rows(rows, store.reader().rows("bar", 0, FAR_MS))
    held = levels(path)
    assert held[2] == (2, 360)
    assert held[0][0] < 60
    assert sum(count for _, count in held.values()) == 400


def test_tails_of_an_open_hour_are_joined(tmp_path: Path) -> None:
    """An hour at 1 Hz never has more than sixty tails and sixty parts to read."""
    path = tmp_path / "site.db"
    rows = some_rows(1000)
    with Store.open(path, site_id="s") as store:
        one_by_one(store, rows)
        held = levels(path)
        assert_same_rows(rows, store.reader().rows("bar", 0, FAR_MS))
    assert held == {0: (40, 40), 1: (16, 960)}


@settings(max_examples=25)
@given(st.permutations(range(8)), st.integers(1, 90))
def test_however_rows_arrive_they_read_the_same(
    tmp_path_factory: pytest.TempPathFactory, order: list[int], step: int
) -> None:
    """Pieces of nearly three hours in any order and size: in order, none lost or doubled."""
    rows = some_rows(160, every_ms=60_000)
    with Store.open(tmp_path_factory.mktemp("any") / "site.db", site_id="s") as store:
        for piece in order:
            part = rows.cut(20 * piece, 20 * piece + 20)
            for at in range(0, 20, step):
                stop = min(at + step, 20)
                keep(store, taken_of(part.cut(at, stop), 20 * piece + at + 1))
        reader = store.reader()
        assert_same_rows(rows, reader.rows("bar", 0, FAR_MS))
        assert reader.confirmed(7) == 160
        parts = list(reader.rows_by_hour("bar", 0, FAR_MS))
        assert [len(part) for part in parts] == [60, 60, 40]


def test_late_rows_are_packed_into_their_hour(tmp_path: Path) -> None:
    """Rows that come hours later end in the one block of their hour, once no more come."""
    path = tmp_path / "site.db"
    rows = some_rows(240, every_ms=60_000)
    late = np.arange(10, 40)
    on_time = np.setdiff1d(np.arange(240), late)
    with Store.open(path, site_id="s") as store:
        keep(store, replace(taken_of(rows_at(rows, on_time)), frame_seq=on_time + 1))
        for place in late.tolist():
            keep(store, taken_of(rows.cut(place, place + 1), place + 1))
        assert_same_rows(rows, store.reader().rows("bar", 0, FAR_MS))
        keep(store, taken_of(shifted(rows.cut(239, 240), 60_000), 241))
    assert levels(path)[2] == (4, 240)


def test_a_frame_is_stored_once(tmp_path: Path) -> None:
    """Sent again, also after a restart, it is dropped and counted; another boot's is not."""
    path = tmp_path / "site.db"
    rows = some_rows(100)
    with Store.open(path, site_id="s") as store:
        assert keep(store, taken_of(rows.cut(0, 60))).confirmed == {7: 60}
    with Store.open(path, site_id="s") as store:
        answer = keep(store, taken_of(rows, 1))
        assert (answer.first_seq, answer.last_seq, answer.doubled) == (61, 100, 60)
        assert keep(store, taken_of(rows)).confirmed == {7: 100}
        assert store.reader().counters()["frames_doubled"] == 160
        assert keep(store, taken_of(shifted(rows, 100_000), boot_id=8)).doubled == 0
        assert len(store.reader().rows("bar", 0, FAR_MS)) == 200


def test_confirmation_waits_for_a_missing_frame(tmp_path: Path) -> None:
    """With frame 4 missing 3 is confirmed; once it comes, all; once past having, all too."""
    rows = some_rows(20)
    with Store.open(tmp_path / "site.db", site_id="s") as store:
        keep(store, taken_of(rows.cut(0, 3)))
        assert keep(store, taken_of(rows.cut(4, 10), 5)).confirmed == {7: 3}
        assert keep(store, taken_of(rows.cut(3, 4), 4)).confirmed == {7: 10}
        answer = keep(store, taken_of(rows.cut(14, 20), 15, frames_from=13))
        assert answer.confirmed == {7: 12}
        answer = keep(store, taken_of(rows.cut(14, 20), 15, frames_from=15))
        assert answer.confirmed == {7: 20}
        assert store.reader().counters()["frames_given_up"] == 4


def test_lines_are_apart(tmp_path: Path) -> None:
    """Two lines of one node: rows apart, confirmed what both have."""
    rows = some_rows(50)
    with Store.open(tmp_path / "site.db", site_id="s") as store:
        answer = keep(store, taken_of(rows), taken_of(rows.cut(0, 30), line_id="roastery"))
        assert answer.confirmed == {7: 30}
        reader = store.reader()
        assert reader.lines() == ("bar", "roastery")
        assert len(reader.rows("roastery", 0, FAR_MS)) == 30
        assert reader.span("roastery") == (HOUR_BEGIN_MS, HOUR_BEGIN_MS + 29_000)
        assert reader.span("cellar") is None


def test_unnumbered_rows_are_all_kept(tmp_path: Path) -> None:
    """A source without frame numbers is stored as it comes, and confirms nothing."""
    rows = some_rows(10)
    with Store.open(tmp_path / "site.db", site_id="s") as store:
        assert keep(store, taken_of(rows, None)).confirmed == {}
        assert keep(store, taken_of(rows, None)).doubled == 0
        assert len(store.reader().rows("bar", 0, FAR_MS)) == 20


def test_a_span_is_cut_to_the_millisecond(tmp_path: Path) -> None:
    """[from, to) holds its beginning and not its end."""
    rows = some_rows(7200)
    with Store.open(tmp_path / "site.db", site_id="s") as store:
        keep(store, taken_of(rows))
        begin, end = HOUR_BEGIN_MS + 3_598_000, HOUR_BEGIN_MS + 3_603_000
        assert_same_rows(rows.cut(3598, 3603), store.reader().rows("bar", begin, end))
        assert len(store.reader().rows("bar", FAR_MS, FAR_MS + HOUR_MS)) == 0


def test_rows_of_a_clock_gone_wrong_do_not_stop_the_packing(tmp_path: Path) -> None:
    """A row dated years ahead makes every hour late; all are packed and read all the same."""
    path = tmp_path / "site.db"
    rows = some_rows(240, every_ms=60_000)
    ahead = shifted(some_rows(1), 20 * 365 * 24 * HOUR_MS)
    with Store.open(path, site_id="s") as store:
        keep(store, taken_of(ahead, 1, boot_id=3))
        one_by_one(store, rows, step=5)
        assert_same_rows(rows, store.reader().rows("bar", 0, HOUR_BEGIN_MS + 4 * HOUR_MS))
    assert levels(path)[2][1] >= 180


def test_a_reader_sees_whole_batches_while_the_writer_writes(tmp_path: Path) -> None:
    """Each look sees a gapless head of what was handed in, never less than the look before."""
    rows = some_rows(3000)
    with Store.open(tmp_path / "site.db", site_id="s") as store:
        reader = store.reader()
        futures = [
            store.submit(Batch(readings=(taken_of(rows.cut(at, at + 5), at + 1),)))
            for at in range(0, 3000, 5)
        ]
        seen = 0
        while seen < 3000:
            found = reader.rows("bar", 0, FAR_MS)
            assert len(found) >= seen
            assert len(found) % 5 == 0
            assert_same_rows(rows.cut(0, len(found)), found)
            seen = len(found)
            if futures[-1].done():
                break
        futures[-1].result(20)
        assert_same_rows(rows, reader.rows("bar", 0, FAR_MS))


def test_rows_survive_reopening_at_any_time(tmp_path: Path) -> None:
    """Closed and opened after every few rows, the file holds the same as in one run."""
    rows = some_rows(150, every_ms=60_000)
    for at in range(0, 150, 10):
        with Store.open(tmp_path / "site.db", site_id="s") as store:
            one_by_one(store, rows.cut(at, at + 10), at + 1, step=3)
    with Store.open(tmp_path / "site.db", site_id="s") as store:
        found: Rows = store.reader().rows("bar", 0, FAR_MS)
        assert_same_rows(rows, found)
        assert store.reader().newest() == 150
    assert set(ROW_COLUMNS) == set(found.__struct_fields__)
