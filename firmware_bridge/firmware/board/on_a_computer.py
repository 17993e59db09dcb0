"""The node on a computer, with virtual meters: its input and output are the line to the host.

    micropython on_a_computer.py < TERMINAL > TERMINAL

Water runs ten seconds in every forty. What was counted is kept in files beside this one.
"""

import sys
import time

from firmware_bridge.firmware.slots import TwoCopies
from firmware_bridge.firmware.station import Station
from firmware_bridge.firmware.stream_line import StreamLine
from firmware_bridge.virtual.board import VirtualBoard

PULSES_A_SECOND = 25


class Computer(VirtualBoard):
    """A virtual board in real time."""

    text = "node on a computer"

    def __init__(self) -> None:
        super().__init__(TwoCopies("keep"), 0, time.ticks_us() & 0xFFFF)
        self.line = StreamLine(sys.stdin.buffer, sys.stdout.buffer)
        self._began = time.ticks_ms()
        self._turned = 0

    def idle(self) -> None:
        """Catch up with real time, and turn the wheel while water runs."""
        time.sleep_ms(5)
        behind_ms = time.ticks_diff(time.ticks_ms(), self._began) - self.moments.us // 1000
        self.moments.us += max(behind_ms, 0) * 1000
        ten_seconds, rest_ms = divmod(self.moments.us // 1000, 10000)
        ran_ms = ten_seconds // 4 * 10000 + (rest_ms if ten_seconds % 4 == 0 else 0)
        if ten_seconds % 4:
            ran_ms += 10000
        while self._turned < ran_ms * PULSES_A_SECOND // 1000:
            self._turned += 1
            self.turbines[0].count += 1


Station(Computer()).run()
