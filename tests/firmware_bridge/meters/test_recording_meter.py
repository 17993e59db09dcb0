"""A recording played as a meter."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from analytics.samples import Flag
from firmware_bridge.clock import SystemClock
from tests.firmware_bridge.meters.at_work import at_work, flags_of, site_with

HEAD = (
    "time,outlet_conductivity_uS_cm,outlet_temperature_C,inlet_conductivity_uS_cm,"
    "inlet_temperature_C,flow_pulses\n"
)


def site(path: Path, speed: float) -> object:
    """A site with this recording."""
    return site_with(f'\n[[meter]]\ndriver = "recording"\nfile = "{path}"\nspeed = {speed}\n')


async def test_rows_come_as_recorded_dated_from_now(tmp_path: Path) -> None:
    """Values and pulses as they stand, blanks as no reading, distances divided by the speed."""
    path = tmp_path / "r.csv"
    lines = [f"2026-03-02T09:30:{s:02d}Z,55{s % 10},15,,,{s}" for s in range(30)]
    path.write_text(HEAD + "\n".join(lines) + "\n")
    begun = SystemClock().now_ms()
    async with at_work(site(path, 100.0)) as rig:  # type: ignore[arg-type]
        await rig.rows_more(30)

        rows = rig.rows
        assert rows.pulses.tolist() == list(range(30))
        assert np.isnan(rows.inlet_us_cm).all()
        assert rows.outlet_us_cm[7] == 557.0
        assert np.diff(rows.at_ms).tolist() == [10] * 29
        assert rows.at_ms[0] >= begun
        assert set(flags_of(rows)) == {Flag.SIMULATED}


async def test_a_file_that_is_not_there_is_said(tmp_path: Path) -> None:
    """As with any meter: what and where, tried again."""
    path = tmp_path / "none.csv"
    async with at_work(site(path, 1.0)) as rig:  # type: ignore[arg-type]
        await rig.until(lambda r: r.health.failures >= 1, "a failure")
        assert "none.csv" in rig.health.last_fault
        path.write_text(HEAD + "2026-03-02T09:30:00Z,557,15,,,3\n")
        await rig.rows_more(1)

        assert rig.newest("outlet_us_cm") == 557.0
