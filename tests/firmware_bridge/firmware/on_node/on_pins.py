"""The board file on a stand-in for the chip; prints what it did (JSON)."""

import json
import os
import sys

ROOT = sys.argv[1]
sys.path[:0] = [ROOT, ROOT + "/tests/firmware_bridge/firmware/on_node"]
sys.path.append(ROOT + "/firmware_bridge/firmware/board")

import chip  # noqa: E402

sys.modules["machine"] = chip
sys.modules["onewire"] = chip
sys.modules["micropython"] = chip

import settings  # noqa: E402

from firmware_bridge.firmware import frames  # noqa: E402
from firmware_bridge.firmware.board_rp2 import RpBoard, stopped  # noqa: E402
from firmware_bridge.firmware.station import Station  # noqa: E402

FOLDER = "/tmp/pins-" + str(int.from_bytes(os.urandom(4), "little"))
os.mkdir(FOLDER)
os.chdir(FOLDER)
settings.LINE = ("uart", 0, 0, 1, 115200)
settings.PULSE_GAP_US = 0


def live(pulses):
    """A start, two seconds and some pulses; the newest row and the kinds of frames."""
    board = RpBoard(settings)
    station = Station(board)
    board.start_watchdog()
    for key, value in (("sample-ms", "100"), ("draw-ms", "200")):
        station.node.receive(frames.Setup(frames.SETUP, 0, 0, key, value).wire(), 0)
    for turn in range(1300):
        if turn == 300:
            for _ in range(pulses):
                chip.interrupts[settings.TURBINE_1][0](None)
        station.turn()
    found = frames.Parser().feed(board.line._uart.said)
    rows = [frame for frame in found if frame.kind == frames.DATA]
    newest = rows[0]
    for row in rows:
        newest = row if row.seq > newest.seq else newest
    return newest, [frame.kind for frame in found]


first, kinds = live(7)
second, _ = live(5)
print(
    json.dumps(
        {
            "kinds": kinds,
            "outlet_ec": second.outlet_ec,
            "inlet_ec": second.inlet_ec,
            "outlet_temp": second.outlet_temp,
            "pulses": [first.pulses_1, second.pulses_1],
            "driven_at_once": chip.most_driven[0],
            "left_driven": chip.driven(),
            "fed": chip.fed[0],
            "hard": chip.interrupts[settings.TURBINE_1][1],
            "stopped": stopped(settings.STOP_PIN),
        }
    )
)
for name in ("keep.0", "keep.1"):
    os.remove(name)
os.chdir("/")
os.rmdir(FOLDER)
