"""Frames between a meter node and the host: how they look on the wire, and how to find them there.

This file runs on the node (MicroPython) and on the host (CPython). All numbers are little-endian,
except the CRC, which stands big-endian so that the CRC over a whole sound frame is 0.

    wire      00 | code | bytes free of 00 ... | 00        a frame is what stands between zeros
                   `-- COBS: the code says how far the next zero of the body would be
    body      kind u8 | version u8 | node u16 | fields ... | CRC-16
    CRC-16    polynomial 0x1021, start 0xFFFF, not reflected ("CCITT-FALSE"), over all before it

    DATA 01        one row, all channels                                            node -> host
       0     4       8     12          18       22      26      30      34      38      42      46
       +-----+-------+-----+-----------+--------+-------+-------+-------+-------+-------+-------+
       |head | boot  | seq | uptime ms | status | out   | out   | in    | in    | pulses| pulses|
       |     | u32   | u32 | u48       | u32    | EC u32| T i32 | EC u32| T i32 | 1 u32 | 2 u32 |
       +-----+-------+-----+-----------+--------+-------+-------+-------+-------+-------+-------+
         EC in 0.01 uS/cm as the probe reads it, T in 0.001 C, pulses counted for ever (mod 2^32)
       status   node NODE_* (8 bits) | pulses2 | pulses1 | in T | in EC | out T | out EC  (4 each)
    GONE 02        boot u32 | from u32 | to u32     these rows are not held any more   node -> host
    HELLO 11       boot u32 | uptime u48 | oldest u32 | newest u32 | confirmed u32 | text
    SETUP 12 / 13  result u8 | key length u8 | key | value      13 is the node's answer to 12
    SELFTEST 15    boot u32 | uptime u48 | tested u32 | failed u32 | text           node -> host
    CONFIRM 20     boot u32 | seq u32               all up to seq is durable           host -> node
    RESEND 21      boot u32 | from u32 | to u32     send these rows again              host -> node
    HELLO? 22, SELFTEST? 23     text                                                   host -> node

A boot id names one start of the node. `seq` counts the rows of a boot from 1. A body is at most 252
bytes, so COBS costs exactly one byte and the longest frame between zeros is 255 bytes.
"""

import struct

try:
    from firmware_bridge.firmware import wires
except ImportError:  # on the node the files lie side by side
    import wires  # type: ignore[import-not-found, no-redef]


VERSION = 1
TEXT_MAX = 64

DATA, GONE, HELLO, SETUP, SETUP_ANSWER, SELFTEST = 0x01, 0x02, 0x11, 0x12, 0x13, 0x15
CONFIRM, RESEND, HELLO_ASK, SELFTEST_ASK = 0x20, 0x21, 0x22, 0x23

# Channels, in the order of their four status bits.
OUTLET_EC, OUTLET_TEMP, INLET_EC, INLET_TEMP, PULSES_1, PULSES_2 = range(6)

# What a node says about one channel.
GOOD = 0
NO_READING = 1  # the value means nothing
DOUBTFUL = 2  # a value that the node itself doubts
LOW = 3  # below what the part can read: dry or open
HIGH = 4  # above what the part can read: short
FAULT = 5  # the part does not answer as it should; the value means nothing

# What a node says about itself.
NODE_COUNTS_NEW = 0x01  # no counters were found at start: they began at 0
NODE_ROWS_LOST = 0x02  # rows were overwritten before the host confirmed them
NODE_SELFTEST = 0x04  # the last self test found a fault

# Results of a set-up.
SETUP_DONE, SETUP_NO_SUCH_KEY, SETUP_BAD_VALUE = 0, 1, 2

_HEAD = "<BBH"
_DATA = "<BBHIIIHIIiIiII"
_RANGE = "<BBHIII"
_CONFIRM = "<BBHII"
_HELLO = "<BBHIIHIII"
_SELFTEST = "<BBHIIHII"
DATA_SIZE = struct.calcsize(_DATA)
_RANGE_SIZE = struct.calcsize(_RANGE)
_CONFIRM_SIZE = struct.calcsize(_CONFIRM)
_HELLO_SIZE = struct.calcsize(_HELLO)
_SELFTEST_SIZE = struct.calcsize(_SELFTEST)


def channel_status(status: int, channel: int) -> int:
    """The four bits of one channel."""
    return (status >> (4 * channel)) & 15


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


class Hello(Frame):
    """Who the node is and which rows it holds: `oldest` to `newest`, durable up to `confirmed`."""

    kind = HELLO

    def __init__(
        self,
        node: int,
        boot: int,
        uptime_ms: int,
        oldest: int,
        newest: int,
        confirmed: int,
        text: str,
    ) -> None:
        self.node = node
        self.boot = boot
        self.uptime_ms = uptime_ms
        self.oldest = oldest
        self.newest = newest
        self.confirmed = confirmed
        self.text = text

    def pack(self) -> bytes:
        fixed = struct.pack(
            _HELLO,
            HELLO,
            VERSION,
            self.node,
            self.boot,
            self.uptime_ms & 0xFFFFFFFF,
            self.uptime_ms >> 32,
            self.oldest,
            self.newest,
            self.confirmed,
        )
        return fixed + _encode(self.text)


class Ask(Frame):
    """HELLO? or SELFTEST?: the host wants to know."""

    def __init__(self, kind: int, node: int = 0, text: str = "") -> None:
        self.kind = kind
        self.node = node
        self.text = text

    def pack(self) -> bytes:
        return struct.pack(_HEAD, self.kind, VERSION, self.node) + _encode(self.text)


class Setup(Frame):
    """SETUP: a setting's new value (empty: only ask), or the node's answer: the value in force."""

    def __init__(self, kind: int, node: int, result: int, key: str, value: str) -> None:
        self.kind = kind
        self.node = node
        self.result = result
        self.key = key
        self.value = value

    def pack(self) -> bytes:
        key = _encode(self.key)
        head = struct.pack("<BBHBB", self.kind, VERSION, self.node, self.result, len(key))
        return head + key + _encode(self.value)


class SelfTest(Frame):
    """What the node tested (one bit a part) and what failed, in words in `text`."""

    kind = SELFTEST

    def __init__(
        self, node: int, boot: int, uptime_ms: int, tested: int, failed: int, text: str
    ) -> None:
        self.node = node
        self.boot = boot
        self.uptime_ms = uptime_ms
        self.tested = tested
        self.failed = failed
        self.text = text

    def pack(self) -> bytes:
        fixed = struct.pack(
            _SELFTEST,
            SELFTEST,
            VERSION,
            self.node,
            self.boot,
            self.uptime_ms & 0xFFFFFFFF,
            self.uptime_ms >> 32,
            self.tested,
            self.failed,
        )
        return fixed + _encode(self.text)


def _encode(text: str) -> bytes:
    """Text for a frame: printable ASCII, at most TEXT_MAX characters."""
    return bytes([b if 32 <= b < 127 else 63 for b in text.encode()[:TEXT_MAX]])


def _decode(data: bytes) -> str:
    """Text of a frame. Raises ValueError unless it is printable ASCII of at most TEXT_MAX."""
    if len(data) > TEXT_MAX or any([not 32 <= b < 127 for b in data]):  # noqa: C419 - no closures
        raise ValueError("not a text")
    return bytes(data).decode()


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


def _read_hello(body: bytes) -> Frame:
    if len(body) < _HELLO_SIZE:
        raise ValueError("length")
    _, _, node, boot, low, high, oldest, newest, confirmed = struct.unpack(
        _HELLO, body[:_HELLO_SIZE]
    )
    text = _decode(body[_HELLO_SIZE:])
    return Hello(node, boot, low | (high << 32), oldest, newest, confirmed, text)


def _read_setup(body: bytes) -> Frame:
    if len(body) < 6 or len(body) < 6 + body[5]:
        raise ValueError("length")
    kind, _, node, result, size = struct.unpack("<BBHBB", body[:6])
    return Setup(kind, node, result, _decode(body[6 : 6 + size]), _decode(body[6 + size :]))


def _read_selftest(body: bytes) -> Frame:
    if len(body) < _SELFTEST_SIZE:
        raise ValueError("length")
    _, _, node, boot, low, high, tested, failed = struct.unpack(_SELFTEST, body[:_SELFTEST_SIZE])
    text = _decode(body[_SELFTEST_SIZE:])
    return SelfTest(node, boot, low | (high << 32), tested, failed, text)


def _read_ask(body: bytes) -> Frame:
    kind, _, node = struct.unpack(_HEAD, body[:4])
    return Ask(kind, node, _decode(body[4:]))


_READERS = {
    DATA: _read_data,
    GONE: _read_range,
    RESEND: _read_range,
    CONFIRM: _read_confirm,
    HELLO: _read_hello,
    SETUP: _read_setup,
    SETUP_ANSWER: _read_setup,
    SELFTEST: _read_selftest,
    HELLO_ASK: _read_ask,
    SELFTEST_ASK: _read_ask,
}

DAMAGE = ("short", "oversize", "bad_code", "bad_crc", "bad_length", "other_version", "unknown_kind")
"""Kinds of damage: what stood between two zeros was too short to be a frame; too long; its code
bytes do not lead to its end; its CRC is wrong; CRC right but fields of another size; another
version of these frames; a kind this version does not know."""


class Parser:
    """Finds frames in whatever arrives. Bytes in, frames and counts out; never raises.

    How the bytes are cut into chunks changes nothing. `counts` has `frames` and one entry for each
    kind of DAMAGE.
    """

    def __init__(self) -> None:
        self.counts = {"frames": 0}
        for kind in DAMAGE:
            self.counts[kind] = 0
        self._tail = b""
        self._skipping = False

    def feed(self, chunk: bytes) -> "list[Frame]":
        """The frames that are complete now, in the order they came."""
        pieces = (self._tail + chunk).split(b"\0")
        self._tail = pieces.pop()
        found = []
        for piece in pieces:
            if self._skipping:
                self._skipping = False
            elif piece:
                frame = self._read(piece)
                if frame is not None:
                    found.append(frame)
        self._drop_endless()
        self.counts["frames"] += len(found)
        return found

    def damaged(self) -> int:
        """How many pieces were no sound frame."""
        return sum([self.counts[kind] for kind in DAMAGE])

    def _drop_endless(self) -> None:
        """Bytes without a zero must not pile up."""
        if self._skipping:
            self._tail = b""
        elif len(self._tail) > wires.MAX_WIRE:
            self._tail = b""
            self._skipping = True
            self.counts["oversize"] += 1

    def _read(self, piece: bytes) -> "Frame | None":
        body, damage = wires.unwrap(piece)
        if body is None:
            return self._refuse(damage)
        if body[1] != VERSION:
            return self._refuse("other_version")
        reader = _READERS.get(body[0])
        if reader is None:
            return self._refuse("unknown_kind")
        try:
            return reader(body)
        except ValueError:
            return self._refuse("bad_length")

    def _refuse(self, kind: str) -> "Frame | None":
        self.counts[kind] += 1
        return None
