"""Pulses while the heap is locked: an allocation in the interrupt would raise MemoryError."""

import sys
import time

import micropython

sys.path.insert(0, sys.argv[1])

from firmware_bridge.firmware.turbine import Turbine


def pulses(pulse, times):
    """The interrupt, so many times, with the heap locked."""
    micropython.heap_lock()
    for _ in range(times):
        pulse(None)
    micropython.heap_unlock()


turbine = Turbine(time.ticks_us, time.ticks_diff, 0)
pulses(turbine.pulse, 1000)
print(turbine.count)
