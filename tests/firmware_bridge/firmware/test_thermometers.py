"""One-wire thermometers on virtual wires: true degrees, and no wrong one through any fault.

CRC check value: "123456789" gives 0xA1 (CRC-8/MAXIM-DOW, catalogue of parametrised CRCs).
Degrees: 0x0191 is 25.0625 C and 0xFF5E is -10.125 C (table of such thermometers' data sheets,
from memory).
"""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firmware_bridge.firmware import kinds
from firmware_bridge.firmware.parts import INLET, OUTLET
from firmware_bridge.firmware.thermometers import Thermometers, crc8, degrees
from firmware_bridge.virtual.board import Moments, VirtualWire


class Pipe:
    """Both thermometers and their clock."""

    def __init__(self) -> None:
        self.moments = Moments()
        self.wires = (VirtualWire(self.moments), VirtualWire(self.moments))
        self.both = Thermometers(self.wires)

    def look(self, times: int = 1) -> tuple[int | None, int]:
        """A second a look; what the outlet says then."""
        for _ in range(times):
            self.both.work(self.moments.us // 1000)
            self.moments.on(1_000_000)
        return self.both.read(OUTLET)


def scratchpad(raw: int, resolution: int = 0x7F) -> bytes:
    """A sound scratchpad."""
    pad = bytes((raw & 255, raw >> 8 & 255, 0, 0, resolution, 0xFF, 0, 0x10))
    return pad + bytes((crc8(pad),))


def test_crc_has_its_published_check_value() -> None:
    """The catalogue's check value."""
    assert crc8(b"123456789") == 0xA1


@pytest.mark.parametrize(
    ("raw", "milli"), [(0x0191, 25_062), (0x00A2, 10_125), (0x0000, 0), (0xFF5E, -10_125)]
)
def test_degrees_of_the_data_sheet(raw: int, milli: int) -> None:
    """Sixteenths of a degree, in two's complement."""
    assert degrees(scratchpad(raw)) == milli


def test_bits_beyond_the_resolution_mean_nothing() -> None:
    """At nine bits the three lowest bits are not read."""
    assert degrees(scratchpad(0x0197, 0x1F)) == degrees(scratchpad(0x0190))


@given(st.integers(-880, 2000), st.integers(0, 71))
def test_any_one_wrong_bit_is_noticed(raw: int, bit: int) -> None:
    """A scratchpad with one bit turned is no temperature."""
    pad = bytearray(scratchpad(raw & 0xFFFF))
    pad[bit // 8] ^= 1 << bit % 8

    assert degrees(bytes(pad)) is None


@pytest.mark.parametrize("pad", [bytes(9), b"\xff" * 9, b"", scratchpad(0x0550)])
def test_what_is_no_temperature(pad: bytes) -> None:
    """A shorted wire (all zeros has a right CRC), an open one, nothing, a part without supply."""
    assert degrees(pad) is None


def test_the_value_is_there_after_one_conversion() -> None:
    """Nothing at the first look, the temperature at the second; work never waits."""
    pipe = Pipe()
    pipe.wires[OUTLET].sixteenths = 16 * 23 + 8

    first, second = pipe.look(), pipe.look()

    assert first == (None, kinds.NO_READING)
    assert second == (23_500, kinds.GOOD)


@pytest.mark.parametrize("fault", ["absent", "shorted", "noisy", "unpowered"])
def test_a_fault_is_bridged_twice_and_then_told(fault: str) -> None:
    """Two bad answers keep the value before; then the channel is at fault, and it comes back."""
    pipe = Pipe()
    pipe.look(2)
    pipe.wires[OUTLET].fault = fault
    bridged = pipe.look(2)
    told, named = pipe.look(4), pipe.both.check()
    pipe.wires[OUTLET].fault = ""

    assert bridged == (20_000, kinds.GOOD)
    assert told == (None, kinds.FAULT)
    assert "outlet" in named
    assert pipe.look(3) == (20_000, kinds.GOOD)
    assert pipe.both.check() == ""


def test_one_thermometer_at_fault_leaves_the_other_alone() -> None:
    """Each has its own wire."""
    pipe = Pipe()
    pipe.wires[OUTLET].fault = "shorted"
    pipe.look(5)

    assert pipe.both.read(INLET) == (20_000, kinds.GOOD)
