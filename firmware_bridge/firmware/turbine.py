"""A turbine's pulses, counted in its interrupt.

Runs on the node (MicroPython) and on the host (CPython). `pulse` is the interrupt: it asks the heap
for nothing, so it may come at any moment.
"""

from firmware_bridge.firmware.parts import Pulses

MASK = 0x3FFFFFFF
"""Counts of 30 bits are small numbers on a 32-bit board: counting on makes no new object."""


class Turbine:
    """One turbine. Edges closer than `gap_us` are one pulse that bounced.

    `ticks_us` and `ticks_diff` are the board's; their clock wraps, so that after a long pause the
    difference says nothing: `seen` (called at every look) notes that there was one.
    """

    def __init__(
        self,
        ticks_us: "Callable[[], int]",  # type: ignore[name-defined] # noqa: F821
        ticks_diff: "Callable[[int, int], int]",  # type: ignore[name-defined] # noqa: F821
        gap_us: int = 200,
    ) -> None:
        self._ticks_us = ticks_us
        self._ticks_diff = ticks_diff
        self.gap_us = gap_us
        self.count = 0
        self._looked = 0
        self._paused = True
        self._last_us = ticks_us()

    def pulse(self, _pin: object = None) -> None:
        """An edge came."""
        now_us = self._ticks_us()
        if self._paused or self._ticks_diff(now_us, self._last_us) >= self.gap_us:
            self._paused = False
            self._last_us = now_us
            self.count = (self.count + 1) & MASK

    def seen(self) -> int:
        """The count; where it has not moved since the last look, the next edge is a pulse."""
        count = self.count
        self._paused = count == self._looked
        self._looked = count
        return count


class Turbines(Pulses):
    """One or two turbines."""

    mask = MASK

    def __init__(self, first: "Turbine | None", second: "Turbine | None" = None) -> None:
        self.first = first
        self.second = second

    def count(self, meter: int) -> int:
        """Pulses since the start; a turbine that is not there stands at 0."""
        turbine = self.first if meter == 0 else self.second
        return 0 if turbine is None else turbine.seen()
