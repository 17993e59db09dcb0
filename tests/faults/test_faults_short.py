"""Every fault in its short form: nothing confirmed is lost, nothing is there twice."""

from __future__ import annotations

from pathlib import Path

import pytest

from firmware_bridge.store.database import Store
from tests.faults import damaged, failing, full, killed, power
from tests.faults.disk import Call, faulty_disk
from tests.firmware_bridge.store.stored import keep, some_rows, taken_of
from tests.stream_faults import Outcome

pytestmark = pytest.mark.timeout(300)


def nothing_lost(outcome: Outcome) -> bool:
    """Every row that was confirmed is there once."""
    return (outcome.lost, outcome.doubled) == (0, 0) and outcome.rows > 0


def test_a_daemon_killed_at_any_moment_loses_nothing(tmp_path: Path) -> None:
    """Rows the node was told are safe are the rows in the file."""
    outcome = killed.daemon_killed(tmp_path / "run", 2)

    assert nothing_lost(outcome), outcome


def test_a_power_cut_loses_nothing_that_was_confirmed(tmp_path: Path) -> None:
    """Writes that were not synced are dropped, torn and reordered."""
    outcome = power.power_cuts(tmp_path / "run", 40)

    assert nothing_lost(outcome), outcome


@pytest.mark.parametrize("fault", [failing.errors, failing.short_writes, failing.no_room])
def test_a_disk_that_refuses_now_and_then_loses_nothing(tmp_path: Path, fault: object) -> None:
    """What was refused is handed in again, and is there once."""
    assert callable(fault)
    outcome = fault(tmp_path / "run", 6)

    assert nothing_lost(outcome), outcome
    assert outcome.repeated > 0


@pytest.mark.parametrize("fault", [damaged.bits_flipped, damaged.files_cut])
def test_a_damaged_file_gives_no_number_twice(tmp_path: Path, fault: object) -> None:
    """The site goes on, most rows are saved, and every number is given once."""
    assert callable(fault)
    outcome = fault(tmp_path / "run", 12)

    assert outcome.doubled == 0
    assert outcome.lost < outcome.rows / 2


def test_a_full_disk_under_the_daemon_loses_nothing(tmp_path: Path) -> None:
    """The page answers while rows wait, and they come in by themselves once there is room."""
    if full.may_mount(tmp_path / "try"):
        outcome = full.disk_full(tmp_path / "run", 1)

        assert nothing_lost(outcome), outcome
    else:  # an ordinary user cannot make a small file system: the same without one
        assert nothing_lost(failing.no_room(tmp_path / "room", 6))


def test_the_checker_sees_a_disk_that_lies(tmp_path: Path) -> None:
    """A disk that says it has synced and has not: the very same check finds rows missing."""
    outcome = power.power_cuts(tmp_path / "run", 40, honest=False)

    assert outcome.lost > 0


def test_the_disk_between_sees_every_commit(tmp_path: Path) -> None:
    """Each confirmed batch was written and synced before it was confirmed."""
    with faulty_disk() as disk:
        store = Store.open(tmp_path / "a.db", site_id="s")
        disk.recording = True
        keep(store, taken_of(some_rows(3)))
        calls: list[Call] = list(disk.calls)
        store.close()

    assert calls[-1].what == "sync"
    assert any(call.what == "write" and call.file == "a.db-wal" for call in calls)
