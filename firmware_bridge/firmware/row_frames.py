"""Frames about rows: a row, rows sent again or gone, rows that are durable (drawn in kinds.py).

Runs on the node (MicroPython) and on the host (CPython).
"""

import struct

from firmware_bridge.firmware import wires
from firmware_bridge.firmware.kinds import CONFIRM, DATA, GONE, RESEND, VERSION

_DATA = "<BBHIIIHIIiIiII"
_RANGE = "<BBHIII"
_CONFIRM = "<BBHII"
DATA_SIZE = struct.calcsize(_DATA)
_RANGE_SIZE = struct.calcsize(_RANGE)
_CONFIRM_SIZE = struct.calcsize(_CONFIRM)


class Frame:
    """Any frame; `node` is the node it comes from or goes to (0: whoever hears it)."""

    kind = 0
    node = 0

    def pack(self) -> bytes:
        """The body, without CRC."""
        raise NotImplementedError

    def wire(self) -> bytes:
        """The frame as it goes on the line."""
        return wires.wrap(self.pack())


class Data(Frame):
    """One row: everything the node read at `uptime_ms` after its boot."""

    kind = DATA

    def __init__(
        self,
        node: int,
        boot: int,
        seq: int,
        uptime_ms: int,
        status: int,
        outlet_ec: int,
        outlet_temp: int,
        inlet_ec: int,
        inlet_temp: int,
        pulses_1: int,
        pulses_2: int,
    ) -> None:
        self.node = node
        self.boot = boot
        self.seq = seq
        self.uptime_ms = uptime_ms
        self.status = status
        self.outlet_ec = outlet_ec
        self.outlet_temp = outlet_temp
        self.inlet_ec = inlet_ec
        self.inlet_temp = inlet_temp
        self.pulses_1 = pulses_1
        self.pulses_2 = pulses_2

    def pack(self) -> bytes:
        return struct.pack(
            _DATA,
            DATA,
            VERSION,
            self.node,
            self.boot,
            self.seq,
            self.uptime_ms & 0xFFFFFFFF,
            self.uptime_ms >> 32,
            self.status,
            self.outlet_ec,
            self.outlet_temp,
            self.inlet_ec,
            self.inlet_temp,
            self.pulses_1,
            self.pulses_2,
        )


class RowRange(Frame):
    """RESEND (send these rows of this boot again) or GONE (they are not held any more)."""

    def __init__(self, kind: int, node: int, boot: int, first: int, last: int) -> None:
        self.kind = kind
        self.node = node
        self.boot = boot
        self.first = first
        self.last = last

    def pack(self) -> bytes:
        return struct.pack(_RANGE, self.kind, VERSION, self.node, self.boot, self.first, self.last)


class Confirm(Frame):
    """Every row of this boot up to `seq` is on the host's disk."""

    kind = CONFIRM

    def __init__(self, node: int, boot: int, seq: int) -> None:
        self.node = node
        self.boot = boot
        self.seq = seq

    def pack(self) -> bytes:
        return struct.pack(_CONFIRM, CONFIRM, VERSION, self.node, self.boot, self.seq)


def _read_data(body: bytes) -> Frame:
    if len(body) != DATA_SIZE:
        raise ValueError("length")
    (_, _, node, boot, seq, low, high, status, out_ec, out_t, in_ec, in_t, first, second) = (
        struct.unpack(_DATA, body)
    )
    uptime = low | (high << 32)
    return Data(node, boot, seq, uptime, status, out_ec, out_t, in_ec, in_t, first, second)


def _read_range(body: bytes) -> Frame:
    if len(body) != _RANGE_SIZE:
        raise ValueError("length")
    kind, _, node, boot, first, last = struct.unpack(_RANGE, body)
    return RowRange(kind, node, boot, first, last)


def _read_confirm(body: bytes) -> Frame:
    if len(body) != _CONFIRM_SIZE:
        raise ValueError("length")
    _, _, node, boot, seq = struct.unpack(_CONFIRM, body)
    return Confirm(node, boot, seq)


READERS = {DATA: _read_data, GONE: _read_range, RESEND: _read_range, CONFIRM: _read_confirm}
"""What makes a frame of a body, by kind; raises ValueError when the body is not of its size."""
