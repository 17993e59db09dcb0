"""A virtual board for the node: probes as resistors in water, thermometers, turbines, a clock.

Runs under MicroPython and CPython alike and in whole numbers only, so that the same script gives
the same bytes under both. Time goes on only when the node waits or rests.
"""

from firmware_bridge.firmware.parts import Board, Front, Line, Memory, OneWire
from firmware_bridge.firmware.thermometers import CONVERT, READ_SCRATCHPAD, SKIP_ROM, crc8
from firmware_bridge.firmware.turbine import Turbine, Turbines

OPEN_OHM = 1_000_000_000
BETWEEN_OHM = 800
"""Water between the two probes of one pipe."""
WATCHDOG_US = 8_000_000
PULSE_US = 3000


class Bitten(Exception):  # noqa: N818 - what happened, not whose error it is
    """Raised when the watchdog was not told in time: the board starts anew."""


class Moments:
    """The virtual clock, in microseconds since power came."""

    def __init__(self) -> None:
        self.us = 0
        self.fed_us = 0
        self.watchdog = False

    def on(self, us: int) -> None:
        """Time goes on."""
        self.us += us
        if self.watchdog and self.us - self.fed_us > WATCHDOG_US:
            raise Bitten


class VirtualFront(Front):
    """Two cells in one pipe. Whoever drives both at once reads both."""

    def __init__(self, moments: Moments) -> None:
        self._moments = moments
        self.cell_ohm = [1500, 1200]
        self.stuck = [-1, -1]
        self.offset = 0
        self.stray = 0
        self.noise = 0
        self.charge_us = [0, 0]
        self.driven = [(-1, 0), (-1, 0)]  # reference and way of each probe
        self._chance = 1

    def drive(self, probe: int, place: int, way: int) -> None:
        """Put a probe under drive."""
        self.driven[probe] = (place, way)

    def release(self) -> None:
        """Let both go."""
        self.driven = [(-1, 0), (-1, 0)]

    def wait_us(self, us: int) -> None:
        """Charge flows one way or the other."""
        for probe in (0, 1):
            self.charge_us[probe] += self.driven[probe][1] * us
        self._moments.on(us)

    def sample(self, probe: int) -> int:
        """What the divider gives."""
        if self.stuck[probe] >= 0:
            return self.stuck[probe]
        place, way = self.driven[probe]
        ohm, cell = self.ohms[place], self.cell_ohm[probe]
        if self.driven[1 - probe][1]:
            other = self.cell_ohm[1 - probe] + BETWEEN_OHM
            cell = cell * other // (cell + other)
        part = cell if way > 0 else ohm
        self._chance = (self._chance * 1103515245 + 12345) & 0x7FFFFFFF
        shake = (self._chance >> 8) % (2 * self.noise + 1) - self.noise
        value = 65535 * part // (ohm + cell) + self.offset + self.stray + shake
        return min(max(value, 0), 65535)


class VirtualWire(OneWire):
    """A thermometer of sixteenths of a degree on a data wire.

    `fault` is "", "absent", "shorted" (all zeros), "noisy" (one bit wrong) or "unpowered".
    """

    def __init__(self, moments: Moments) -> None:
        self._moments = moments
        self.sixteenths = 16 * 20
        self.resolution = 0x7F
        self.fault = ""
        self._shown = 0x0550
        self._began_us = -1
        self._asked = -1
        self._out = b""

    def reset(self) -> bool:
        """Presence."""
        self._asked = -1
        return self.fault != "absent"

    def write(self, byte: int) -> None:
        """A command, after the one that skips the address."""
        if byte == SKIP_ROM and self._asked < 0:
            self._asked = 0
        elif byte == CONVERT and self._asked == 0:
            self._began_us = self._moments.us
        elif byte == READ_SCRATCHPAD and self._asked == 0:
            self._out = self._scratchpad()

    def read(self) -> int:
        """The next byte; ones when there is none."""
        if not self._out:
            return 0xFF
        byte, self._out = self._out[0], self._out[1:]
        return byte

    def _scratchpad(self) -> bytes:
        if self.fault == "shorted":
            return bytes(9)
        if self.fault == "unpowered":
            self._shown = 0x0550
        elif self._began_us >= 0 and self._moments.us - self._began_us >= 749_000:
            self._shown = self.sixteenths & 0xFFFF
        pad = bytes((self._shown & 255, self._shown >> 8, 0, 0, self.resolution, 0xFF, 0, 0x10))
        pad += bytes((crc8(pad),))
        return pad if self.fault != "noisy" else bytes((pad[0] ^ 1,)) + pad[1:]


class VirtualMemory(Memory):
    """What was saved, and what was noted, in two places."""

    def __init__(self) -> None:
        self.saved = b""
        self.saves = 0
        self.last_note = None  # type: tuple[int, int, int] | None

    def load(self) -> bytes:
        """What was saved last."""
        return self.saved

    def save(self, data: bytes) -> None:
        """Keep it."""
        self.saved = data
        self.saves += 1

    def note(self, starts: int, first: int, second: int) -> None:
        """Note it."""
        self.last_note = (starts, first, second)

    def noted(self) -> "tuple[int, int, int] | None":
        """What was noted last."""
        return self.last_note


class VirtualLine(Line):
    """What was said to the node and by it."""

    def __init__(self) -> None:
        self.to_node = b""
        self.said = b""

    def read(self) -> bytes:
        """Up to 64 bytes, as a small board takes them."""
        chunk, self.to_node = self.to_node[:64], self.to_node[64:]
        return chunk

    def write(self, data: bytes) -> None:
        """Gather it."""
        self.said += data


class VirtualBoard(Board):
    """A board with power on; give it the memory of the one before for a reset."""

    text = "virtual board"

    def __init__(self, memory: "Memory | None" = None, ticks: int = 0, chance: int = 1) -> None:
        self.moments = Moments()
        self.front = VirtualFront(self.moments)
        self.wires = (VirtualWire(self.moments), VirtualWire(self.moments))
        self.turbines = (self._turbine(), self._turbine())
        self.pulses = Turbines(*self.turbines)
        self.memory = memory or VirtualMemory()
        self.line = VirtualLine()
        self.idle_us = 1000
        self._ticks = ticks
        self._chance = chance

    def ticks_ms(self) -> int:
        """Wraps as a real board's clock does."""
        return (self._ticks + self.moments.us // 1000) & self.ticks_mask

    def feed(self) -> None:
        """The watchdog is told; the first time it is started."""
        self.moments.watchdog = True
        self.moments.fed_us = self.moments.us

    def chance(self) -> int:
        """As given."""
        return self._chance

    def idle(self) -> None:
        """A millisecond, unless it is to go faster."""
        self.moments.on(self.idle_us)

    def flow(self, meter: int, pulses: int) -> None:
        """A turbine turns."""
        for _ in range(pulses):
            self.moments.us += PULSE_US  # water does not wait for the watchdog
            self.turbines[meter].pulse()

    def _turbine(self) -> Turbine:
        mask = 0x3FFFFFFF
        half = (mask + 1) // 2

        def ticks_us() -> int:
            return self.moments.us & mask

        def ticks_diff(one: int, other: int) -> int:
            return ((one - other + half) & mask) - half

        return Turbine(ticks_us, ticks_diff)
