"""A script played on a virtual board: the same bytes under every interpreter.

micropython play.py ROOT        one script a line in (JSON), one line out (JSON)
"""

import json
import sys

if __name__ == "__main__":
    sys.path.insert(0, sys.argv[1])

from firmware_bridge.firmware import frames
from firmware_bridge.firmware.station import Station
from firmware_bridge.virtual.board import Bitten, VirtualBoard


class Stage:
    """A board and its node; what was said outlives a start."""

    def __init__(self, ticks):
        self.said = b""
        self.starts = 0
        self.ticks = ticks
        self.memory = None
        self.start()

    def start(self):
        """Power, or a reset."""
        self.starts += 1
        self.board = VirtualBoard(self.memory, self.ticks, 7 * self.starts)
        self.memory = self.board.memory
        self.station = Station(self.board, 24)

    def act(self, what, *values):
        """One line of the script."""
        board = self.board
        if what == "turns":
            self.turns(values[0], values[1])
        elif what == "flow":
            board.flow(*values)
        elif what == "cell":
            board.front.cell_ohm[values[0]] = values[1]
        elif what == "adc":
            board.front.offset, board.front.noise, board.front.stray = values
        elif what == "warm":
            board.wires[values[0]].sixteenths = values[1]
        elif what == "wire":
            board.wires[values[0]].fault = values[1]
        elif what == "hear":
            board.line.to_node += bytes(values[0])
        elif what == "set":
            board.line.to_node += frames.Setup(frames.SETUP, 0, 0, values[0], values[1]).wire()
        elif what == "ask":
            self.ask(*values)
        elif what == "reset":
            self.start()
        elif what == "cut":
            self.memory.last_note = None
            self.start()

    def turns(self, count, us):
        """So many turns, each after so much more time."""
        for _ in range(count):
            self.board.moments.us += us
            try:
                self.station.turn()
            except Bitten:
                self.start()
        self.said += self.board.line.said
        self.board.line.said = b""

    def ask(self, kind, first, last):
        """A frame from the host, for the boot that runs."""
        boot = self.station.node.boot
        if kind == "confirm":
            frame = frames.Confirm(0, boot, last)
        elif kind == "resend":
            frame = frames.RowRange(frames.RESEND, 0, boot, first, last)
        else:
            frame = frames.Ask(frames.SELFTEST_ASK if kind == "test" else frames.HELLO_ASK)
        self.board.line.to_node += frame.wire()


def play(script):
    """What the node says and keeps."""
    stage = Stage(script["ticks"])
    for act in script["acts"]:
        stage.act(*act)
    stage.turns(3, 0)
    return [list(stage.said), list(stage.memory.saved)]


def main():
    """Play what comes in, line by line."""
    while True:
        line = sys.stdin.readline()
        if not line:
            return
        print(json.dumps(play(json.loads(line))))


if __name__ == "__main__":
    main()
