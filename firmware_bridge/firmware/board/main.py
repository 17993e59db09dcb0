"""The node's program: MicroPython starts it when the board gets power."""

import settings

from firmware_bridge.firmware.board_rp2 import RpBoard, stopped
from firmware_bridge.firmware.station import Station

if stopped(settings.STOP_PIN):
    print("The stop pin is tied to ground: the node does not start.")
else:
    board = RpBoard(settings)
    station = Station(board)
    board.start_watchdog()
    station.run()
