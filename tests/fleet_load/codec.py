"""As much of MQTT 5 as a crowd of sites needs, as bytes: no threads, no sockets.

    15 000 sites in one process are 15 000 connections of a few hundred bytes each; a client library
    with a thread a connection would not fit on this machine.

Packets and properties are those of the OASIS standard MQTT 5.0, chapters 2 and 3.
"""

from __future__ import annotations

from typing import NamedTuple

CONNACK, PUBLISH, PUBACK, SUBACK, PINGRESP, DISCONNECT = 2, 3, 4, 9, 13, 14
RECEIVE_MAXIMUM = 0x21
_SIZES = {
    0x01: 1, 0x02: 4, 0x11: 4, 0x13: 2, 0x17: 1, 0x18: 4, 0x19: 1, 0x21: 2, 0x22: 2, 0x23: 2,
    0x24: 1, 0x25: 1, 0x27: 4, 0x28: 1, 0x29: 1, 0x2A: 1,
}  # fmt: skip
"""Bytes of each property of a fixed length (MQTT 5.0, table 2-4)."""
_TEXTS = frozenset((0x03, 0x08, 0x09, 0x12, 0x15, 0x16, 0x1A, 0x1C, 0x1F))
_PAIR = 0x26


class Packet(NamedTuple):
    """One packet from the broker. `number` is its packet id, `code` its reason (128 and above is a
    failure), `most` how many publications may be under way."""

    kind: int
    number: int = 0
    code: int = 0
    topic: str = ""
    payload: bytes = b""
    qos: int = 0
    most: int = 65535


class Will(NamedTuple):
    """What the broker says for a client that is gone without a word."""

    topic: str
    payload: bytes


def connect(client_id: str, keep_alive_s: int, will: Will | None = None) -> bytes:
    """A connection that begins anew."""
    flags = 0x02 | (0x2C if will is not None else 0)  # will: QoS 1, retained
    body = _text("MQTT") + bytes((5, flags)) + keep_alive_s.to_bytes(2, "big") + b"\x00"
    body += _text(client_id)
    if will is not None:
        body += b"\x00" + _text(will.topic) + len(will.payload).to_bytes(2, "big") + will.payload
    return _framed(0x10, body)


def publish(topic: bytes, payload: bytes, number: int = 0, *, retain: bool = False) -> bytes:
    """A publication; with a packet id (above 0) it is of QoS 1."""
    first = 0x30 | (0x02 if number else 0) | retain
    head = len(topic).to_bytes(2, "big") + topic
    if number:
        head += number.to_bytes(2, "big")
    return _framed(first, head + b"\x00" + payload)


def subscribe(number: int, topics: list[str], qos: int = 0) -> bytes:
    """A subscription to some topics."""
    body = number.to_bytes(2, "big") + b"\x00"
    body += b"".join(_text(topic) + bytes((qos,)) for topic in topics)
    return _framed(0x82, body)


def puback(number: int) -> bytes:
    """The receipt of a publication of QoS 1."""
    return b"\x40\x02" + number.to_bytes(2, "big")


PINGREQ = b"\xc0\x00"
GOODBYE = b"\xe0\x00"


class Parser:
    """Bytes in, packets out; keeps what is not a whole packet yet."""

    def __init__(self) -> None:
        self._rest = b""

    def feed(self, data: bytes) -> list[Packet]:
        """Every packet that is whole by now."""
        data = self._rest + data if self._rest else data
        found: list[Packet] = []
        at = 0
        while (place := _length(data, at)) is not None:
            begin, size = place
            if begin + size > len(data):
                break
            found.append(_packet(data[at], data[begin : begin + size]))
            at = begin + size
        self._rest = data[at:]
        return found


def _packet(first: int, body: bytes) -> Packet:
    kind = first >> 4
    if kind == PUBLISH:
        return _publication(first, body)
    if kind == CONNACK:
        return Packet(kind, code=body[1], most=_receive_maximum(body[2:]))
    if kind == PUBACK:
        return Packet(kind, int.from_bytes(body[:2], "big"), body[2] if len(body) > 2 else 0)
    if kind == SUBACK:
        return Packet(kind, int.from_bytes(body[:2], "big"), max(body[-1], 0))
    return Packet(kind, code=body[0] if body else 0)


def _publication(first: int, body: bytes) -> Packet:
    qos, end = (first >> 1) & 3, 2 + int.from_bytes(body[:2], "big")
    topic, number = body[2:end].decode(), 0
    if qos:
        number, end = int.from_bytes(body[end : end + 2], "big"), end + 2
    place = _length(body, end - 1)
    if place is None:
        raise ValueError("a publication without its properties")
    begin, size = place
    return Packet(PUBLISH, number, topic=topic, payload=body[begin + size :], qos=qos)


def _receive_maximum(properties: bytes) -> int:
    place = _length(properties, -1)
    if place is None:
        return 65535
    at, size = place
    end = at + size
    while at < end:
        name, at = properties[at], at + 1
        if name == RECEIVE_MAXIMUM:
            return int.from_bytes(properties[at : at + 2], "big")
        at += _SIZES.get(name, 0)
        for _ in range(2 if name == _PAIR else name in _TEXTS):
            at += 2 + int.from_bytes(properties[at : at + 2], "big")
    return 65535


def _length(data: bytes, before: int) -> tuple[int, int] | None:
    """Where the body begins and its length, from the variable integer after `before`; None where
    it is not all there. Raises ValueError for one that is too long."""
    size, shift, at = 0, 0, before + 1
    while at < len(data):
        byte = data[at]
        size |= (byte & 0x7F) << shift
        at += 1
        if byte < 0x80:
            return at, size
        shift += 7
        if shift > 21:
            raise ValueError("a length of more than four bytes")
    return None


def _framed(first: int, body: bytes) -> bytes:
    size, length = len(body), b""
    while True:
        size, part = size >> 7, size & 0x7F
        length += bytes((part | (0x80 if size else 0),))
        if not size:
            return bytes((first,)) + length + body


def _text(text: str) -> bytes:
    encoded = text.encode()
    return len(encoded).to_bytes(2, "big") + encoded
