"""A board of the RP2040 class (also RP2350), joined by MicroPython's `machine`.

Runs on the node only. Which pin is what stands in the board's own `settings.py`.
"""

import os
import sys
import time

import machine
import micropython
import onewire
from machine import ADC, UART, WDT, Pin, mem32

from firmware_bridge.firmware.parts import Board, Front, Line, OneWire
from firmware_bridge.firmware.slots import TwoCopies
from firmware_bridge.firmware.stream_line import StreamLine
from firmware_bridge.firmware.turbine import Turbine, Turbines
from firmware_bridge.firmware.wires import crc16

WATCHDOG_MS = 8000
"""The longest an RP2040's watchdog waits is 8388 ms."""
SCRATCH_RP2040 = 0x4005800C
SCRATCH_RP2350 = 0x400D800C
"""First of the watchdog's scratch registers: a reset leaves them alone, a power cut does not."""

micropython.alloc_emergency_exception_buf(100)


class PinFront(Front):
    """Each probe: one pin a reference resistor, one pin at the back of the cell, one ADC pin."""

    def __init__(self, probes: tuple, ohms: tuple) -> None:
        self.ohms = ohms
        self._front = [[Pin(number, Pin.IN) for number in probe[0]] for probe in probes]
        self._back = [Pin(probe[1], Pin.IN) for probe in probes]
        self._adc = [ADC(Pin(probe[2])) for probe in probes]

    def drive(self, probe: int, place: int, way: int) -> None:
        self._front[probe][place].init(Pin.OUT, value=1 if way > 0 else 0)
        self._back[probe].init(Pin.OUT, value=0 if way > 0 else 1)

    def release(self) -> None:
        for pins in self._front:
            for pin in pins:
                pin.init(Pin.IN)
        for pin in self._back:
            pin.init(Pin.IN)

    def sample(self, probe: int) -> int:
        return self._adc[probe].read_u16()

    def wait_us(self, us: int) -> None:
        time.sleep_us(us)


class PinWire(OneWire):
    """A thermometer's data wire."""

    def __init__(self, number: int) -> None:
        self._bus = onewire.OneWire(Pin(number))

    def reset(self) -> bool:
        return bool(self._bus.reset())

    def write(self, byte: int) -> None:
        self._bus.writebyte(byte)

    def read(self) -> int:
        return self._bus.readbyte()


class RpMemory(TwoCopies):
    """Two files on the board's flash, and the counts in registers that a reset leaves alone."""

    def __init__(self, path: str) -> None:
        super().__init__(path)
        newer = "RP2350" in sys.implementation._machine
        self._scratch = SCRATCH_RP2350 if newer else SCRATCH_RP2040

    def note(self, starts: int, first: int, second: int) -> None:
        mem32[self._scratch] = first
        mem32[self._scratch + 4] = second
        mem32[self._scratch + 8] = (starts << 16) | _mark(starts, first, second)

    def noted(self) -> "tuple[int, int, int] | None":
        first = mem32[self._scratch] & 0xFFFFFFFF
        second = mem32[self._scratch + 4] & 0xFFFFFFFF
        tag = mem32[self._scratch + 8] & 0xFFFFFFFF
        starts = tag >> 16
        return (starts, first, second) if tag & 0xFFFF == _mark(starts, first, second) else None


class UartLine(Line):
    """A UART, with whatever driver for RS-232 or RS-485 hangs on it."""

    def __init__(self, uart: UART) -> None:
        self._uart = uart

    def read(self) -> bytes:
        waiting = self._uart.any()
        return (self._uart.read(min(waiting, 256)) or b"") if waiting else b""

    def write(self, data: bytes) -> None:
        self._uart.write(data)


class RpBoard(Board):
    """The board as `settings` describes it."""

    def __init__(self, settings: object) -> None:
        self.text = settings.NAME
        self.by_watchdog = machine.reset_cause() == machine.WDT_RESET
        self.front = PinFront((settings.OUTLET_PROBE, settings.INLET_PROBE), settings.OHMS)
        self.wires = (PinWire(settings.OUTLET_THERMOMETER), PinWire(settings.INLET_THERMOMETER))
        self.pulses = Turbines(
            _turbine(settings.TURBINE_1, settings.PULSE_GAP_US),
            _turbine(settings.TURBINE_2, settings.PULSE_GAP_US),
        )
        self.memory = RpMemory("keep")
        self.line = self._line(settings.LINE)
        self._watchdog = None

    def start_watchdog(self) -> None:
        """From here on the loop must not stop."""
        self._watchdog = WDT(timeout=WATCHDOG_MS)

    def ticks_ms(self) -> int:
        return time.ticks_ms()

    def feed(self) -> None:
        if self._watchdog is not None:
            self._watchdog.feed()

    def chance(self) -> int:
        return int.from_bytes(os.urandom(2), "little")

    def idle(self) -> None:
        time.sleep_ms(1)

    def _line(self, line: tuple) -> Line:
        if line[0] == "usb":
            micropython.kbd_intr(-1)  # a frame may hold the byte of Ctrl-C
            return StreamLine(sys.stdin.buffer, sys.stdout.buffer)
        _, number, tx, rx, baud = line
        return UartLine(UART(number, baud, tx=Pin(tx), rx=Pin(rx), rxbuf=1024, txbuf=2048))


def stopped(number: "int | None") -> bool:
    """Whether the stop pin is tied to ground."""
    return number is not None and Pin(number, Pin.IN, Pin.PULL_UP).value() == 0


def _turbine(number: "int | None", gap_us: int) -> "Turbine | None":
    if number is None:
        return None
    turbine = Turbine(time.ticks_us, time.ticks_diff, gap_us)
    Pin(number, Pin.IN, Pin.PULL_UP).irq(turbine.pulse, Pin.IRQ_FALLING, hard=True)
    return turbine


def _mark(starts: int, first: int, second: int) -> int:
    return crc16(b"%d %d %d" % (starts, first, second))
