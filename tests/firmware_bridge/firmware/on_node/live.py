"""A node on a terminal whose turbine turns step by step: the node's real code, memory and line.

    micropython live.py ROOT FOLDER STEPS        stdin and stdout are the line

Every step turns the wheel by `pulses_of(step)` and is logged before the node can see it. After a
kill the water goes on from what the node kept; more than the one step that was under way when the
kill came must not be missing.
"""

import sys
import time

sys.path.insert(0, sys.argv[1])

from firmware_bridge.firmware import frames
from firmware_bridge.firmware.slots import TwoCopies
from firmware_bridge.firmware.station import Station
from firmware_bridge.firmware.stream_line import StreamLine
from firmware_bridge.virtual.board import VirtualBoard
from tests.firmware_bridge.firmware.on_node.steps import pulses_of

FOLDER, STEPS = sys.argv[2], int(sys.argv[3])
AHEAD_MOST = 300
SETTINGS = (
    ("draw-ms", "1"),
    ("sample-ms", "1"),
    ("heartbeat-ms", "3600000"),
    ("resend-after-ms", "300"),
    ("resend-gap-ms", "1"),
    ("drive-us", "20"),
)


class LiveBoard(VirtualBoard):
    """A virtual board with a real terminal and real files."""

    def __init__(self):
        super().__init__(TwoCopies(FOLDER + "/keep"), 0, time.ticks_us() & 0xFFFF)
        self.line = StreamLine(sys.stdin.buffer, sys.stdout.buffer)
        self.text = "live board"
        self.log = open(FOLDER + "/turned", "r+b")  # noqa: SIM115 - as long as the board lives

    def turn_wheel(self, step):
        """Log the step, then turn."""
        self.log.seek(0)
        self.log.write(b"%10d" % step)
        pulses = pulses_of(step)
        self.turbines[0].count += pulses
        self.moments.us += 2000

    def turned(self):
        """The last step that was logged."""
        self.log.seek(0)
        return int(self.log.read(10))


def step_kept(kept):
    """The step up to which these pulses are the sum."""
    step = total = 0
    while total < kept:
        step += 1
        total += pulses_of(step)
    if total != kept:
        raise ValueError("the kept count is no sum of whole steps")
    return step


def main():
    """Turn the wheel until all steps are turned; then only serve the line."""
    board = LiveBoard()
    station = Station(board)
    node = station.node
    station.cells.warm, station.cells.turns = 0, 1
    for key, value in SETTINGS:
        node.receive(frames.Setup(frames.SETUP, 0, 0, key, value).wire(), 0)
    station.turn()
    step = step_kept(node.counted(0))
    if not 0 <= board.turned() - step <= 1:
        raise ValueError("pulses are missing after a reset")
    while step < STEPS:
        if node.newest() - node.confirmed() < AHEAD_MOST:
            step += 1
            board.turn_wheel(step)
        else:
            board.moments.us += 1000
            time.sleep_us(300)
        station.turn()
    with open(FOLDER + "/over", "w") as file:
        file.write(str(node.boot) + " " + str(node.newest()))
    while True:
        board.moments.us += 1000
        time.sleep_us(300)
        station.turn()


main()
