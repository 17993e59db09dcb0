"""What the node's logic is joined to: what it asks its meters, and the hardware behind them.

Runs on the node (MicroPython) and on the host (CPython). The hardware of a board is three small
objects (`Front`, `OneWire`, `Pulses`), a memory, a line and a clock; `Board` holds them together.
Values are whole numbers in the frames' own units, so that they are the same on every processor.
"""

OUTLET, INLET = 0, 1
SIDES = ("outlet", "inlet")


class Conductivity:
    """Both conductivity probes, as the node asks them."""

    def read(self, probe: int) -> "tuple[int | None, int]":
        """Conductivity in 0.01 uS/cm as the probe (OUTLET, INLET) reads it, and its frames status.

        As if the cell constant were 1 per cm: the host knows the true one.
        """
        raise NotImplementedError

    def check(self) -> str:
        """What is wrong, in a few words; empty when sound."""
        return ""


class Thermometer:
    """The thermometers beside the probes, as the node asks them."""

    def read(self, probe: int) -> "tuple[int | None, int]":
        """Temperature in 0.001 C at the probe (OUTLET, INLET), and its frames status."""
        raise NotImplementedError

    def check(self) -> str:
        """What is wrong, in a few words; empty when sound."""
        return ""


class Pulses:
    """Hardware: one or two turbines, counted by interrupts."""

    mask = 0xFFFFFFFF
    """The count wraps here: 16, 30 or 32 bits, as the part has it."""

    def count(self, meter: int) -> int:
        """Pulses of meter 0 or 1 since the node started."""
        raise NotImplementedError

    def check(self) -> str:
        """What is wrong, in a few words; empty when sound."""
        return ""


class Front:
    """Hardware: the pins that drive the probes, and the ADC between reference resistor and cell.

    pin A --[ reference ]--+--[ cell ]-- pin B        way 1: A high, B low; way -1: A low, B high
                           `-- ADC
    """

    ohms = (330, 2200, 15000)
    """Reference resistors, smallest first, each with the resistance of its pin."""

    def drive(self, probe: int, place: int, way: int) -> None:
        """Drive one probe through one reference; all pins were let go before."""
        raise NotImplementedError

    def release(self) -> None:
        """Every pin of both probes lets go: no current."""
        raise NotImplementedError

    def sample(self, probe: int) -> int:
        """The ADC now, 0 to 65535 of the supply."""
        raise NotImplementedError

    def wait_us(self, us: int) -> None:
        """Let so much time pass."""
        raise NotImplementedError


class OneWire:
    """Hardware: one data wire with one thermometer on it."""

    def reset(self) -> bool:
        """Begin anew; whether anything answers."""
        raise NotImplementedError

    def write(self, byte: int) -> None:
        """Send eight bits, lowest first."""
        raise NotImplementedError

    def read(self) -> int:
        """Receive eight bits, lowest first."""
        raise NotImplementedError


class Memory:
    """A few bytes that outlive a power cut. `save` is all or nothing."""

    def load(self) -> bytes:
        """What was saved last; empty when nothing was."""
        raise NotImplementedError

    def save(self, data: bytes) -> None:
        """Keep these bytes."""
        raise NotImplementedError

    def note(self, starts: int, first: int, second: int) -> None:
        """Note the counts where a reset leaves them alone but a power cut does not, if there is
        such a place. Costs nothing, so it is done at every look."""

    def noted(self) -> "tuple[int, int, int] | None":
        """What was noted last, if it is still whole."""
        return None


class Line:
    """The line to the host. It holds nobody up."""

    def read(self) -> bytes:
        """What came in; empty when nothing did."""
        raise NotImplementedError

    def write(self, data: bytes) -> None:
        """Send this."""
        raise NotImplementedError


class Board:
    """Everything a node is joined to."""

    front: Front
    wires: "tuple[OneWire, OneWire]"
    pulses: Pulses
    memory: Memory
    line: Line
    text = "meter node"
    by_watchdog = False
    """Whether the watchdog made this start."""

    def ticks_ms(self) -> int:
        """A clock that only goes on; wraps at `ticks_mask` + 1."""
        raise NotImplementedError

    ticks_mask = 0x3FFFFFFF

    def feed(self) -> None:
        """Tell the watchdog that the node is well; untold for some seconds it starts it anew."""

    def chance(self) -> int:
        """A number that differs from start to start."""
        raise NotImplementedError

    def idle(self) -> None:
        """Rest a millisecond or so."""
