"""Several meters of one line make one row."""

from __future__ import annotations

from math import isnan, nan

import numpy as np

from analytics.samples import NO_COUNT, Flag, rows_of
from firmware_bridge.readings.joining import FRESH_MS, SILENT_MS, Joining
from firmware_bridge.readings.lot import Lot
from firmware_bridge.store.batch import NO_FRAME, Taken

T0 = 1_780_000_000_000


def lot(at_ms: int, *, ec: float = nan, inlet: float = nan, pulses: int = NO_COUNT,
        flags: Flag = Flag.GOOD) -> Lot:  # fmt: skip
    """A lot of one row."""
    rows = rows_of([(T0 + at_ms, ec, nan, inlet, nan, pulses, int(flags))])
    one = np.array([NO_FRAME], dtype=np.int64)
    taken = Taken(line_id="bar", rows=rows, boot_id=1, uptime_ms=one, frame_seq=one)
    return Lot(line_id="bar", taken=(taken,), state=b"s", counters={"rows": 1})


def test_the_meter_that_counts_leads_and_takes_what_the_others_said() -> None:
    """Rows of the others end on the board; their state and counters go on."""
    joining = Joining()
    joining.join("flow", lot(0, pulses=3))
    side = joining.join("probe", lot(400, ec=557.0))
    led = joining.join("flow", lot(1000, pulses=4))

    assert side.taken == ()
    assert side.state == b"s"
    assert side.counters == {"rows": 1, "rows_joined": 1}
    assert led.taken[0].rows.outlet_us_cm.tolist() == [557.0]
    assert led.taken[0].rows.pulses.tolist() == [4]


def test_the_counting_meter_takes_the_lead_when_it_comes_later() -> None:
    """The probe spoke first, its rows went on; once water is counted it only fills."""
    joining = Joining()
    first = joining.join("probe", lot(0, ec=557.0))
    joining.join("flow", lot(100, pulses=1))
    second = joining.join("probe", lot(1000, ec=558.0))

    assert len(first.taken) == 1
    assert second.taken == ()


def test_an_old_value_is_not_taken() -> None:
    """A probe that fell silent leaves its channel empty."""
    joining = Joining()
    joining.join("flow", lot(0, pulses=1))
    joining.join("probe", lot(100, ec=557.0))
    led = joining.join("flow", lot(200 + FRESH_MS, pulses=1))

    assert isnan(led.taken[0].rows.outlet_us_cm[0])


def test_a_doubt_goes_with_the_value() -> None:
    """What is held against the probe's value is held against the row."""
    joining = Joining()
    joining.join("flow", lot(0, pulses=1))
    joining.join("probe", lot(100, inlet=600.0, flags=Flag.INLET_SUSPECT | Flag.FLOW_SUSPECT))
    led = joining.join("flow", lot(1000, pulses=1, ec=500.0))

    assert led.taken[0].rows.flags.tolist() == [int(Flag.INLET_SUSPECT)]


def test_when_the_leader_falls_silent_the_others_go_on() -> None:
    """No row is lost for want of a flow meter."""
    joining = Joining()
    joining.join("flow", lot(0, pulses=1))
    alone = joining.join("probe", lot(SILENT_MS + 1, ec=557.0))
    back = joining.join("flow", lot(SILENT_MS + 500, pulses=2))

    assert len(alone.taken) == 1
    assert back.taken[0].rows.pulses.tolist() == [2]


def test_instants_of_a_line_never_run_backwards() -> None:
    """Two meters' clocks differ a little: the row is moved, not lost."""
    joining = Joining()
    joining.join("probe", lot(1000, ec=557.0))
    led = joining.join("flow", lot(900, pulses=2))

    assert led.taken[0].rows.at_ms.tolist() == [T0 + 1001]
