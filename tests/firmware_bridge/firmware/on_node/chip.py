"""A stand-in for a board's chip: pins with water, thermometers and a turbine behind them."""

from firmware_bridge.firmware.thermometers import crc8

IN, OUT = 0, 1
CELL_OHM = {26: 1500, 27: 900}
REFERENCES = {
    2: (26, 370),
    3: (26, 2240),
    4: (26, 15040),
    6: (27, 370),
    7: (27, 2240),
    8: (27, 15040),
}
BACKS = {5: 26, 9: 27}
WDT_RESET, PWRON_RESET = 3, 1

pins = {}
interrupts = {}
fed = [0]
most_driven = [0]
registers = {}


def reset_cause():
    return WDT_RESET


def alloc_emergency_exception_buf(size):
    """A board's interpreter has it."""


def driven():
    """Pins that give current now."""
    return sorted([n for n, (mode, _) in pins.items() if mode == OUT])


class Pin:
    IN, OUT, PULL_UP, IRQ_FALLING = IN, OUT, 2, 4

    def __init__(self, number, mode=IN, pull=None):
        self.number = number
        pins[number] = (mode, 0)

    def init(self, mode, value=0):
        pins[self.number] = (mode, value)
        most_driven[0] = max(most_driven[0], len(driven()))

    def value(self):
        return 0

    def irq(self, handler, trigger, hard=False):
        interrupts[self.number] = (handler, hard)


class ADC:
    def __init__(self, pin):
        self._number = pin.number

    def read_u16(self):
        """The divider of the one reference and the far pin that are driven."""
        fronts = [n for n in driven() if n in REFERENCES and REFERENCES[n][0] == self._number]
        backs = [n for n in driven() if BACKS.get(n) == self._number]
        if len(fronts) != 1 or len(backs) != 1 or len(driven()) != 2:
            return 0
        ohm, cell = REFERENCES[fronts[0]][1], CELL_OHM[self._number]
        share = cell if pins[fronts[0]][1] else ohm
        return 65535 * share // (ohm + cell) // 16 * 16  # twelve bits


class UART:
    def __init__(self, number, baud, tx=None, rx=None, rxbuf=0, txbuf=0):
        self.said = b""

    def any(self):
        return 0

    def read(self, most):
        return b""

    def write(self, data):
        self.said += data


class WDT:
    def __init__(self, timeout):
        self.timeout = timeout

    def feed(self):
        fed[0] += 1


class Registers:
    def __getitem__(self, place):
        return registers.get(place, 0)

    def __setitem__(self, place, value):
        registers[place] = value & 0xFFFFFFFF


mem32 = Registers()


class OneWire:
    """A thermometer at 25.0625 C."""

    def __init__(self, pin):
        self._out = b""

    def reset(self):
        return True

    def writebyte(self, byte):
        if byte == 0xBE:
            pad = bytes((0x91, 0x01, 0, 0, 0x7F, 0xFF, 0, 0x10))
            self._out = pad + bytes((crc8(pad),))

    def readbyte(self):
        byte, self._out = self._out[0], self._out[1:]
        return byte
