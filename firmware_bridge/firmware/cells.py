"""The conductivity front end: alternating drive, ranges, what a reading is worth.

Runs on the node (MicroPython) and on the host (CPython), in whole numbers only.

    way 1    up   = 65535 * cell / (reference + cell)         both are ratios of the supply, which
    way -1   down = 65535 * reference / (reference + cell)    therefore drops out
    conductivity at 1 per cm = 1 / cell = down / (reference * up)

As long one way as the other, so that no charge is left on the electrodes. `up + down` is the whole
scale, whatever the cell is: where it is not, a wire, the ADC or a current from elsewhere is to
blame. Each probe is read in turn while the other one's pins let go: in one pipe, two probes driven
at once would read each other.
"""

from firmware_bridge.firmware import kinds
from firmware_bridge.firmware.parts import INLET, SIDES, Conductivity, Front

FULL = 65535
WARM, TURNS = 4, 16
"""Turns of the drive that are waited for, and that are read, unless set otherwise."""
CENTI_SIEMENS = 100_000_000
"""0.01 uS in a siemens."""


class Cells(Conductivity):
    """Both probes. `fixed_range` is 0 (find the range) or 1, 2, 3."""

    def __init__(self, front: Front) -> None:
        self._front = front
        self._place = [1, 1]
        self.probes = 2
        self.half_us = 250
        self.fixed_range = 0
        self.warm, self.turns = WARM, TURNS
        self._high = 0
        self._low = 0
        self._spread = 0

    def read(self, probe: int) -> "tuple[int | None, int]":
        """Drive and read one probe; takes some ten milliseconds."""
        if probe == INLET and self.probes < 2:
            return None, kinds.NO_READING
        for _ in range(len(self._front.ohms)):
            place = self.in_range(probe) - 1
            self._measure(probe, place)
            if not self._in_balance():
                return None, kinds.FAULT
            better = self._better(place)
            if better == place:
                break
            self._place[probe] = better
        return self._value(place), self._state(place)

    def in_range(self, probe: int) -> int:
        """The range a probe is read in now: 1, 2 or 3."""
        return self.fixed_range or self._place[probe] + 1

    def check(self) -> str:
        """Which probe's drive or ADC does not do what it should.

        A cell reads alike in two ranges; an ADC stuck in the middle of its scale does not.
        """
        for probe in range(self.probes):
            state = self.read(probe)[1]
            if state == kinds.FAULT or (state == kinds.GOOD and not self._alike(probe)):
                return SIDES[probe] + " probe: drive or ADC"
        return ""

    def _alike(self, probe: int) -> bool:
        here = self.in_range(probe) - 1
        there = here - 1 if here else 1
        values = []
        for place in (here, there):
            self._measure(probe, place)
            values.append(self._value(place))
        return abs(values[0] - values[1]) * 4 <= values[0]

    def _measure(self, probe: int, place: int) -> None:
        front, half_us = self._front, self.half_us
        high = low = most = 0
        least = 2 * FULL
        for turn in range(self.warm + self.turns):
            front.drive(probe, place, 1)
            front.wait_us(half_us)
            up = front.sample(probe)
            front.drive(probe, place, -1)
            front.wait_us(half_us)
            down = front.sample(probe)
            if turn >= self.warm:
                high += up
                low += down
                most = max(most, FULL + up - down)
                least = min(least, FULL + up - down)
        front.release()
        self._high, self._low, self._spread = high, low, most - least

    def _in_balance(self) -> bool:
        return abs(self._high + self._low - self.turns * FULL) * 10 <= self.turns * FULL

    def _better(self, place: int) -> int:
        """The range to read in: the next one where the cell is nine times its reference or less."""
        lean = self._high - self._low
        if self.fixed_range or abs(lean) * 10 <= 8 * self.turns * FULL:
            return place
        other = place + 1 if lean > 0 else place - 1
        return min(max(other, 0), len(self._front.ohms) - 1)

    def _value(self, place: int) -> int:
        """In 0.01 uS/cm. The ADC's own offset is in both readings and is taken out."""
        lean = self._high - self._low
        up = max(self.turns * FULL + lean, 1)
        down = max(self.turns * FULL - lean, 0)
        ohm = self._front.ohms[place]
        return (2 * CENTI_SIEMENS * down + ohm * up) // (2 * ohm * up)

    def _state(self, place: int) -> int:
        lean, whole = self._high - self._low, self.turns * FULL
        if lean * 200 > 199 * whole:
            return kinds.LOW
        if lean * 50 < -49 * whole:
            return kinds.HIGH
        if self._spread * 10 > FULL:
            return kinds.DOUBTFUL
        return kinds.GOOD
