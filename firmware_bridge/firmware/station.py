"""A node on its board: one turn of its loop after the other.

Runs on the node (MicroPython) and on the host (CPython). Every `sample-ms` it looks: thermometers,
turbines, probes, and a row if one is due. In between it serves the line.
"""

from firmware_bridge.firmware import kinds
from firmware_bridge.firmware.cells import Cells
from firmware_bridge.firmware.node import Node
from firmware_bridge.firmware.parts import Board
from firmware_bridge.firmware.thermometers import CONVERTS_MS, Thermometers

RING_ROWS = 512


class Uptime:
    """Milliseconds since the start, from a clock that wraps."""

    def __init__(self, ticks: int, mask: int) -> None:
        self._ticks = ticks
        self._mask = mask
        self._ms = 0

    def at(self, ticks: int) -> int:
        """The uptime when the clock stands so; asked for at least once a wrap (12 days)."""
        self._ms += (ticks - self._ticks) & self._mask
        self._ticks = ticks
        return self._ms


class Station:
    """The node's logic joined to a board."""

    def __init__(self, board: Board, ring_rows: int = RING_ROWS) -> None:
        self._board = board
        self.cells = Cells(board.front)
        self.thermometers = Thermometers(board.wires)
        status = kinds.NODE_WATCHDOG if board.by_watchdog else 0
        self.node = Node(
            self.cells,
            self.thermometers,
            board.pulses,
            board.memory,
            board.chance(),
            ring_rows,
            board.text,
            status,
        )
        self._uptime = Uptime(board.ticks_ms(), board.ticks_mask)
        self._look_ms = 0
        self._tested = False

    def turn(self) -> None:
        """Once round: the watchdog, the line, a look if it is time."""
        board, node = self._board, self.node
        board.feed()
        now_ms = self._uptime.at(board.ticks_ms())
        chunk = board.line.read()
        if chunk:
            node.receive(chunk, now_ms)
        out = self._look(now_ms) if now_ms >= self._look_ms else node.serve(now_ms)
        if out:
            board.line.write(out)
        board.idle()

    def run(self) -> None:
        """For ever."""
        while True:
            self.turn()

    def _look(self, now_ms: int) -> bytes:
        node = self.node
        self._look_ms = now_ms + node.setting("sample-ms")
        self.cells.fixed_range = node.setting("ec-range")
        self.cells.half_us = node.setting("drive-us")
        self.cells.probes = self.thermometers.probes = node.setting("probes")
        self.thermometers.work(now_ms)
        if not self._tested and now_ms >= CONVERTS_MS:
            self._tested = True
            node.test()
        return node.step(now_ms)
