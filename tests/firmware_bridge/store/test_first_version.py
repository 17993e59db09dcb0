"""A file of the first version opens in this one with everything in it."""

from __future__ import annotations

from pathlib import Path

from firmware_bridge.store.database import Store
from firmware_bridge.store.migrations import MIGRATIONS
from firmware_bridge.store.rescue import rescue
from tests.firmware_bridge.store.damage import wipe
from tests.firmware_bridge.store.first_version import write_first_version
from tests.firmware_bridge.store.stored import (
    HOUR_BEGIN_MS,
    asked,
    assert_same_rows,
    keep,
    some_rows,
    taken_of,
)

END_MS = 1 << 60


def test_a_file_of_the_first_version_is_brought_up_to_date(tmp_path: Path) -> None:
    """Rows bit for bit, draws, facts, alarms, counters and cursors are there, and it goes on."""
    path = tmp_path / "a.db"
    write_first_version(path)
    with Store.open(path, site_id="s") as store:
        reader = store.reader()
        assert_same_rows(some_rows(600), reader.rows("bar", 0, END_MS))
        assert len(reader.draws("bar", 0, END_MS)) == 2
        assert [event.event_id for event in reader.events("bar")] == ["e1"]
        assert [known.seq for known in reader.alarm_changes("bar")] == [604]
        assert reader.counters() == {"rows": 600}
        assert reader.cursors() == {"mqtt": 12}
        assert [row.seq for row in store.outbox.read(0, 700)] == list(range(1, 605))
        again = some_rows(1000)
        answer = keep(store, taken_of(again, 1))
        assert (answer.doubled, answer.first_seq, answer.confirmed) == (600, 605, {7: 1000})
    assert asked(path, "PRAGMA user_version") == [(MIGRATIONS[-1].number,)]
    assert asked(path, "PRAGMA integrity_check") == [("ok",)]


def test_a_damaged_file_of_the_first_version_is_rescued(tmp_path: Path) -> None:
    """Its list of tables is gone: those that this version added lie behind the old ones."""
    path = tmp_path / "a.db"
    write_first_version(path)
    wipe(path, 1)
    found = rescue(path, "s", HOUR_BEGIN_MS)

    assert (found.saved["draws"], found.saved["events"], found.saved["blocks"]) == (2, 1, 1)
    with Store.open(path, site_id="s") as store:
        assert_same_rows(some_rows(600), store.reader().rows("bar", 0, END_MS))
