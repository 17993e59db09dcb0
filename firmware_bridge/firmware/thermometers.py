"""One-wire digital thermometers, one on each data wire beside its probe.

Runs on the node (MicroPython) and on the host (CPython), in whole numbers only.

    scratchpad   0-1 sixteenths of a degree   4 resolution   8 CRC-8 over all before it
"""

from firmware_bridge.firmware import kinds
from firmware_bridge.firmware.parts import INLET, SIDES, OneWire, Thermometer

SKIP_ROM, CONVERT, READ_SCRATCHPAD = 0xCC, 0x44, 0xBE
CONVERTS_MS = 750
BAD_MOST = 2
"""So many bad answers in a row are bridged with the value before."""
POWER_ON = 0x0550
"""85 C: what stands there when the part lost its supply before it converted."""


def crc8(data: bytes) -> int:
    """CRC-8, polynomial 0x31 reflected, start 0; of "123456789" it is 0xA1 (CRC-8/MAXIM-DOW)."""
    crc = 0
    for byte in data:
        crc ^= byte
        for _ in range(8):
            crc = (crc >> 1) ^ 0x8C if crc & 1 else crc >> 1
    return crc


def degrees(pad: bytes) -> "int | None":
    """0.001 C from a scratchpad; None when it cannot be one.

    A data wire that is shorted gives all zeros, whose CRC is right: the resolution byte is not.
    """
    if len(pad) != 9 or crc8(pad) or pad[4] & 0x9F != 0x1F:
        return None
    raw = pad[0] | pad[1] << 8
    if raw == POWER_ON:
        return None
    if raw >= 0x8000:
        raw -= 0x10000
    raw &= ~((1 << (3 - (pad[4] >> 5))) - 1)  # bits beyond the resolution mean nothing
    return raw * 125 // 2


class Thermometers(Thermometer):
    """Both thermometers; `work` is called at every look and never waits for them."""

    def __init__(self, wires: "tuple[OneWire, OneWire]") -> None:
        self._wires = wires
        self.probes = 2
        self._value = [None, None]  # type: list[int | None]
        self._state = [kinds.NO_READING, kinds.NO_READING]
        self._bad = [0, 0]
        self._begun_ms = [-1, -1]

    def read(self, probe: int) -> "tuple[int | None, int]":
        """The newest value."""
        if probe == INLET and self.probes < 2:
            return None, kinds.NO_READING
        return self._value[probe], self._state[probe]

    def check(self) -> str:
        """Which thermometer does not answer as it should."""
        for probe in range(self.probes):
            if self._state[probe] == kinds.FAULT:
                return SIDES[probe] + " thermometer"
        return ""

    def work(self, now_ms: int) -> None:
        """Collect what was converted and begin the next."""
        for probe in range(self.probes):
            begun = self._begun_ms[probe]
            if begun >= 0 and now_ms - begun < CONVERTS_MS:
                continue
            if begun >= 0:
                self._collect(probe)
            self._begin(probe, now_ms)

    def _begin(self, probe: int, now_ms: int) -> None:
        wire = self._wires[probe]
        if wire.reset():
            wire.write(SKIP_ROM)
            wire.write(CONVERT)
            self._begun_ms[probe] = now_ms
            return
        if self._begun_ms[probe] < 0:  # else it was told when it was collected
            self._took(probe, None)
        self._begun_ms[probe] = -1

    def _collect(self, probe: int) -> None:
        wire = self._wires[probe]
        if not wire.reset():
            self._took(probe, None)
            return
        wire.write(SKIP_ROM)
        wire.write(READ_SCRATCHPAD)
        self._took(probe, degrees(bytes([wire.read() for _ in range(9)])))

    def _took(self, probe: int, value: "int | None") -> None:
        if value is not None:
            self._value[probe], self._state[probe], self._bad[probe] = value, kinds.GOOD, 0
            return
        self._bad[probe] += 1
        if self._bad[probe] > BAD_MOST or self._value[probe] is None:
            self._bad[probe] = BAD_MOST + 1
            self._value[probe], self._state[probe] = None, kinds.FAULT
