"""What a node holds in memory after a thousand rows, and after ten thousand more."""

import gc
import sys

sys.path.insert(0, sys.argv[1])

from firmware_bridge.firmware import frames
from firmware_bridge.firmware.station import Station
from firmware_bridge.virtual.board import VirtualBoard

board = VirtualBoard()
station = Station(board)
for key, value in (("draw-ms", "1"), ("sample-ms", "1"), ("drive-us", "20")):
    board.line.to_node += frames.Setup(frames.SETUP, 0, 0, key, value).wire()


def rows(newest):
    """Live until this row was made; a host that asks for everything at once."""
    while station.node.newest() < newest:
        board.flow(0, 1)
        station.turn()
        board.line.said = b""
        if station.node.newest() % 97 == 0:
            board.line.to_node += frames.Ask(frames.HELLO_ASK).wire() * 40


def held():
    gc.collect()
    return gc.mem_alloc()


rows(1000)
first = held()
rows(11000)
print(first, held())
