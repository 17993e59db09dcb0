"""What keeps frames whole on the line: zeros between them (COBS) and a CRC-16 at their end.

Runs on the node (MicroPython) and on the host (CPython).
"""

try:
    from binascii import crc_hqx as _crc
except ImportError:  # MicroPython has no crc_hqx

    def _crc(data, crc):  # type: ignore[no-untyped-def, misc]
        return crc_by_nibbles(data, crc)


MAX_BODY = 252
MAX_WIRE = MAX_BODY + 3  # code byte, body, CRC
MIN_WIRE = 7  # code byte, kind, version, node, CRC

_NIBBLES = (
    0x0000, 0x1021, 0x2042, 0x3063, 0x4084, 0x50A5, 0x60C6, 0x70E7,
    0x8108, 0x9129, 0xA14A, 0xB16B, 0xC18C, 0xD1AD, 0xE1CE, 0xF1EF,
)  # fmt: skip


def crc_by_nibbles(data: bytes, crc: int = 0xFFFF) -> int:
    """CRC-16 without a helper from the interpreter: the same number as `crc16`."""
    for byte in data:
        crc = ((crc << 4) & 0xFFFF) ^ _NIBBLES[(crc >> 12) ^ (byte >> 4)]
        crc = ((crc << 4) & 0xFFFF) ^ _NIBBLES[(crc >> 12) ^ (byte & 15)]
    return crc


def crc16(data: bytes) -> int:
    """CRC-16, polynomial 0x1021, start 0xFFFF; of "123456789" it is 0x29B1 (CRC-16/IBM-3740)."""
    return _crc(data, 0xFFFF)


def wrap(body: bytes) -> bytes:
    """The body as it goes on the line, zeros round it. Raises ValueError when it is too long."""
    if len(body) > MAX_BODY:
        raise ValueError("frame too long")
    crc = crc16(body)
    pieces = (body + bytes((crc >> 8, crc & 255))).split(b"\0")
    coded = [bytes((len(piece) + 1,)) + piece for piece in pieces]
    return b"\0" + b"".join(coded) + b"\0"


def unwrap(piece: bytes) -> "tuple[bytes | None, str]":
    """The body of what stood between two zeros, or None and what is wrong with it."""
    size = len(piece)
    if size > MAX_WIRE:
        return None, "oversize"
    if size < MIN_WIRE:
        return None, "short"
    body = bytearray(piece)
    place = 0
    while place < size:
        step = body[place]
        body[place] = 0
        place += step
    if place != size:
        return None, "bad_code"
    if _crc(body[1:], 0xFFFF):
        return None, "bad_crc"
    return bytes(body[1:-2]), ""
