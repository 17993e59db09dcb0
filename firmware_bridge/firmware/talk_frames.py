"""Frames in which node and host talk: hello, set-up, self test, questions (drawn in kinds.py).

Runs on the node (MicroPython) and on the host (CPython).
"""

import struct

from firmware_bridge.firmware.kinds import (
    HELLO,
    HELLO_ASK,
    SELFTEST,
    SELFTEST_ASK,
    SETUP,
    SETUP_ANSWER,
    TEXT_MAX,
    VERSION,
)
from firmware_bridge.firmware.row_frames import Frame

_HEAD = "<BBH"
_SETUP = "<BBHBB"
_HELLO = "<BBHIIHIII"
_SELFTEST = "<BBHIIHII"
_SETUP_SIZE = struct.calcsize(_SETUP)
_HELLO_SIZE = struct.calcsize(_HELLO)
_SELFTEST_SIZE = struct.calcsize(_SELFTEST)


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
        head = struct.pack(_SETUP, self.kind, VERSION, self.node, self.result, len(key))
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


def _read_hello(body: bytes) -> Frame:
    if len(body) < _HELLO_SIZE:
        raise ValueError("length")
    _, _, node, boot, low, high, oldest, newest, confirmed = struct.unpack(
        _HELLO, body[:_HELLO_SIZE]
    )
    text = _decode(body[_HELLO_SIZE:])
    return Hello(node, boot, low | (high << 32), oldest, newest, confirmed, text)


def _read_setup(body: bytes) -> Frame:
    if len(body) < _SETUP_SIZE or len(body) < _SETUP_SIZE + body[5]:
        raise ValueError("length")
    kind, _, node, result, size = struct.unpack(_SETUP, body[:_SETUP_SIZE])
    text = body[_SETUP_SIZE:]
    key, value = text[:size], text[size:]
    return Setup(kind, node, result, _decode(key), _decode(value))


def _read_selftest(body: bytes) -> Frame:
    if len(body) < _SELFTEST_SIZE:
        raise ValueError("length")
    _, _, node, boot, low, high, tested, failed = struct.unpack(_SELFTEST, body[:_SELFTEST_SIZE])
    text = _decode(body[_SELFTEST_SIZE:])
    return SelfTest(node, boot, low | (high << 32), tested, failed, text)


def _read_ask(body: bytes) -> Frame:
    kind, _, node = struct.unpack(_HEAD, body[:4])
    return Ask(kind, node, _decode(body[4:]))


READERS = {
    HELLO: _read_hello,
    SETUP: _read_setup,
    SETUP_ANSWER: _read_setup,
    SELFTEST: _read_selftest,
    HELLO_ASK: _read_ask,
    SELFTEST_ASK: _read_ask,
}
"""What makes a frame of a body, by kind; raises ValueError when the body is not of its size."""
