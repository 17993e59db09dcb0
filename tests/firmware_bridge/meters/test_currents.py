"""4-20 mA through a register: spans by unit, the limits of NAMUR NE 43."""

from __future__ import annotations

import math

import msgspec
import pytest

from analytics.samples import Flag
from firmware_bridge.config.registers import RegisterMap
from firmware_bridge.readings.registers import RegisterDecoder
from firmware_bridge.readings.value_driver import Heard
from tests.firmware_bridge.config.site_files import compiled
from tests.firmware_bridge.meters.at_work import SITE, site_with

HEAD = '\n[[meter]]\ndriver = "modbus-tcp"\nhost = "127.0.0.1"\n'
METER = (
    HEAD
    + """
[meter.outlet_conductivity]
address = 0
scale = 0.001
at_4_ma = "0 uS/cm"
at_20_ma = "2 mS/cm"
[meter.outlet_temperature]
address = 1
scale = 0.001
at_4_ma = "32 °F"
at_20_ma = "122 °F"
"""
)


def heard(microamperes: int, second: int = 12_000) -> tuple[Heard, RegisterDecoder]:
    """What registers in uA say."""
    options = site_with(METER).wiring.meters[0].options
    assert isinstance(options, RegisterMap)
    decoder = RegisterDecoder(options.slots())
    (found,) = decoder.decode(msgspec.json.encode([[microamperes, second]]) + b"\n")
    return found, decoder


@pytest.mark.parametrize(
    ("microamperes", "us_cm"),
    [(4_000, 0.0), (8_000, 500.0), (20_000, 2000.0), (3_800, 0.0), (20_500, 2062.5)],
)
def test_a_current_between_the_limits_is_a_measurement(microamperes: int, us_cm: float) -> None:
    """Straight between the stated ends, a little beyond them too."""
    found, decoder = heard(microamperes)

    assert found.values["outlet_us_cm"] == pytest.approx(us_cm)
    assert found.values["outlet_temp_c"] == pytest.approx(25.0)
    assert found.flags == Flag.GOOD
    assert decoder.complaint == ""


@pytest.mark.parametrize(("microamperes", "word"), [(3_700, "3.7 mA"), (20_800, "20.8 mA")])
def test_a_current_just_outside_is_out_of_range(microamperes: int, word: str) -> None:
    """The water is beyond the span: the value is kept, doubted, and the mend is a wider span."""
    found, decoder = heard(microamperes)

    assert math.isfinite(found.values["outlet_us_cm"])
    assert found.flags == Flag.OUTLET_SUSPECT
    assert word in decoder.complaint
    assert "wider range" in decoder.complaint
    assert decoder.counts == {"currents_out_of_range": 1}


@pytest.mark.parametrize(
    ("microamperes", "word"),
    [(3_600, "broken wire"), (0, "broken wire"), (21_000, "short or failure"), (65_535, "short")],
)
def test_a_failure_signal_is_no_value(microamperes: int, word: str) -> None:
    """At 3.6 mA or less, at 21 mA or more the transmitter says that it has failed."""
    found, decoder = heard(microamperes)

    assert math.isnan(found.values["outlet_us_cm"])
    assert found.flags == Flag.OUTLET_SUSPECT
    assert word in decoder.complaint
    assert decoder.counts == {"currents_failed": 1}


@pytest.mark.parametrize(
    ("old", "new", "key"),
    [
        ('at_20_ma = "2 mS/cm"\n', "", "outlet_conductivity.at_20_ma"),
        ('"2 mS/cm"', '"0 uS/cm"', "outlet_conductivity.at_20_ma"),
        ('"2 mS/cm"', "2000", "at_20_ma"),
        ('"2 mS/cm"', '"2 bar"', "at_20_ma"),
        ("scale = 0.001\nat_4_ma = \"0", "skale = 0.001\nat_4_ma = \"0", "skale"),
    ],
)  # fmt: skip
def test_a_span_that_is_none_is_a_fault(old: str, new: str, key: str) -> None:
    """Half a span, an empty one, a bare number, another kind's unit, a slip of the pen."""
    assert old in METER
    faults = compiled(SITE.format(k_factor="1000 pulse/L") + METER.replace(old, new, 1))

    assert isinstance(faults, list)
    assert [fault.key for fault in faults] == [key]
    assert faults[0].mend or faults[0].allowed


def test_a_meter_without_a_channel_is_a_fault() -> None:
    """With the table that is missing."""
    faults = compiled(SITE.format(k_factor="1000 pulse/L") + HEAD)

    assert isinstance(faults, list)
    assert "[meter.outlet_conductivity]" in faults[0].mend
