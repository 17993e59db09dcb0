"""A replaced meter ends what was learned of the old one."""

from __future__ import annotations

import msgspec
import numpy as np
import pytest

from analytics.baseline import GAIN_SD
from analytics.belief import Belief, begin, changed
from analytics.facts import take_event
from analytics.samples import (
    DAY_MS,
    MeterReading,
    MeterReplaced,
    Part,
    ProbeCalibrated,
    no_draws,
)
from analytics.setup import LineSetup, LocalTime
from analytics.weigh import start_weighing, weigh

LINE = LineSetup(
    line_id="bar", medium="hydrogen", capacity_mmol=600.0, pulses_per_l=1000.0, inlet_probe=True
)
T0 = 1_780_000_000_000 // DAY_MS * DAY_MS


def learned(line: LineSetup = LINE) -> Belief:
    """Guesses that know their probes and their turbine well."""
    belief = begin(line, 1)
    n = len(belief.ln_weight)
    known = {
        "gain": np.full(n, 0.05),
        "gain_var": np.full(n, 1e-5),
        "k": np.full(n, 0.08),
        "fouled": np.ones(n),
        "meter": np.ones(n),
        "ec_var": np.full(n, 1e-5),
    }
    return changed(belief, known)


def replaced(part: Part, line: LineSetup = LINE, **more: float) -> Belief:
    """What is believed after a part was replaced."""
    event = MeterReplaced(at_ms=T0, part=part, **more)  # type: ignore[arg-type]
    return take_event(learned(line), line, None, event, 1)


def test_a_new_flow_meter_has_its_own_k_factor() -> None:
    """As stated with its spread; what the old one was suspected of is over."""
    belief = replaced(Part.FLOW_METER, pulses_per_l=1100.0, relative_sd=0.02)

    k = belief.cloud["k"]
    assert float(k.mean()) == pytest.approx(np.log(1.1), abs=0.002)
    assert float(k.std()) == pytest.approx(0.02, rel=0.1)
    assert not belief.cloud["meter"].any()
    assert float(belief.cloud["gain"][0]) == 0.05


@pytest.mark.parametrize("part", [Part.OUTLET_PROBE, Part.INLET_PROBE])
def test_a_new_probe_of_a_pair_is_as_uncertain_as_any(part: Part) -> None:
    """The pair's gain is what it is before a cross-zero; a new inlet probe also moves the
    reference."""
    belief = replaced(part)

    assert float(belief.cloud["gain"][0]) == 0.0
    assert float(belief.cloud["gain_var"][0]) == pytest.approx(GAIN_SD**2)
    assert not belief.cloud["fouled"].any()
    moved = float(belief.cloud["ec_var"][0]) > 1e-4
    assert moved == (part is Part.INLET_PROBE)


def test_the_only_probe_is_its_own_reference() -> None:
    """What is believed of raw conductivity becomes as uncertain as the probe."""
    alone = msgspec.structs.replace(LINE, inlet_probe=False)
    belief = replaced(Part.OUTLET_PROBE, alone)

    assert float(belief.cloud["ec_var"][0]) == pytest.approx(GAIN_SD**2, rel=0.05)


def test_hand_readings_of_two_counters_are_not_compared() -> None:
    """The old counter stood at 48210 L, the new one begins at 12 L: no litre is made of that."""
    events = (
        MeterReading(at_ms=T0 + 1000, event_id="a", litres=48_210.0),
        MeterReplaced(at_ms=T0 + 2000, event_id="b", part=Part.FLOW_METER, shows_l=12.0),
        MeterReading(at_ms=T0 + 3000, event_id="c", litres=12.0),
    )
    state, _ = weigh(LINE, LocalTime(), 1, start_weighing(LINE, 1), no_draws(), events, T0 + DAY_MS)

    assert state.hand is not None
    assert state.hand.read_l == 12.0
    assert float(state.belief.cloud["k"].std()) == pytest.approx(0.03, rel=0.15)


def test_a_dry_reading_is_part_of_a_calibration() -> None:
    """4 uS/cm dry at 400 in use is one percent that the probe reads too much."""
    n = len(learned().ln_weight)
    belief = changed(learned(), {"ec": np.full(n, np.log(400.0)), "gain_var": np.full(n, 1e3)})
    event = ProbeCalibrated(at_ms=T0, probe="outlet", gain=1.0, dry_us_cm=4.0)

    gain = take_event(belief, LINE, None, event, 1).cloud["gain"]

    assert float(gain.mean()) == pytest.approx(0.01005, abs=2e-4)
