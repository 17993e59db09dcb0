"""Rows in the body of a chunk: JSON lists of rows, one a line, compressed."""

from __future__ import annotations

import threading
from collections.abc import Sequence

import msgspec
import zstandard

from firmware_bridge.forward.payloads import BatchRow

LEVEL = 1
"""Of zstd: on short texts a higher one costs much and saves little."""
LARGEST_BODY = 1 << 28
"""Bytes of a chunk unpacked, at most."""

_lists = msgspec.json.Decoder(list[BatchRow])
_write = msgspec.json.Encoder()


class _Tools(threading.local):
    """A packer and an unpacker for each thread: they are dear to make, and for one at a time."""

    def __init__(self) -> None:
        self.pack = zstandard.ZstdCompressor(level=LEVEL)
        self.unpack = zstandard.ZstdDecompressor()


_tools = _Tools()


def encoded(rows: Sequence[BatchRow]) -> bytes:
    """Rows as one JSON list without a line break."""
    return _write.encode(rows)


def packed(texts: Sequence[bytes]) -> bytes:
    """JSON lists of rows as the body of a chunk."""
    return _tools.pack.compress(b"\n".join(texts))


def unpacked(body: bytes) -> list[BatchRow]:
    """The rows of a chunk in the order of their coming."""
    plain = _tools.unpack.decompress(body, max_output_size=LARGEST_BODY)
    return [row for line in plain.split(b"\n") for row in _lists.decode(line)]
