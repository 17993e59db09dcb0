"""Recordings whose clock was wrong for a moment, or ran back: told, and the rest is used."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np

from analytics.samples import Rows
from firmware_bridge.recording import COLUMNS, Recording, open_recording, read_rows

BEGIN = datetime(2024, 5, 13, 7, tzinfo=UTC)
COUNT = 200


def recorded(path: Path, minutes: list[float]) -> tuple[Recording, Rows]:
    """A recording with a row at each of these minutes, read."""
    rows = [
        f"{(BEGIN + timedelta(minutes=m)).strftime('%Y-%m-%dT%H:%M:%SZ')},330.0,15.0,560.0,15.0,10"
        for m in minutes
    ]
    path.write_text(",".join(COLUMNS) + "\n" + "\n".join(rows) + "\n")
    recording = open_recording(path)
    with recording.stream:
        (found,) = read_rows(recording)
    return recording, found


def test_one_row_years_ahead_does_not_cost_the_rows_after_it(tmp_path: Path) -> None:
    """A clock that said 2031 for one row: that row is left out and told, all others are read."""
    minutes = [float(m) for m in range(COUNT)]
    minutes[50] = 3_500_000.0
    recording, rows = recorded(tmp_path / "r.csv", minutes)

    assert len(rows) == COUNT - 1
    assert recording.aside.leaps == 1
    assert recording.aside.backwards == 0
    assert "leaps ahead to 2031" in recording.aside.said[0]
    assert np.all(np.diff(rows.at_ms) > 0)


def test_a_clock_set_back_by_an_hour_costs_that_hour_once(tmp_path: Path) -> None:
    """After a step back of an hour the rows of that hour are left out, the first ones kept."""
    minutes = [float(m) for m in range(100)] + [float(m) for m in range(40, 140)]
    recording, rows = recorded(tmp_path / "r.csv", minutes)

    assert recording.aside.leaps == 0
    assert recording.aside.backwards == 60
    assert len(rows) == 140
    assert "runs backwards" in recording.aside.said[0]


def test_weeks_without_rows_are_no_leap(tmp_path: Path) -> None:
    """A gap of a month is a gap: every row is read."""
    minutes = [float(m) for m in range(100)] + [45_000.0 + m for m in range(100)]
    recording, rows = recorded(tmp_path / "r.csv", minutes)

    assert len(rows) == 200
    assert recording.aside.said == []
