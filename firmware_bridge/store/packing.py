"""One column of numbers as few bytes: scaled whole numbers, their steps, zstd.

A column of whole numbers is kept as its steps (or, where that is shorter, as the distance of every
value from the middle one), divided by their common factor, in as few bytes a value as the largest
needs, bytes of equal weight together, compressed. A column of measured values is brought to whole
numbers by a scale first; what does not sit on the scale exactly is kept aside bit for bit.
Arithmetic wraps at 64 bits both ways, so every 64-bit value comes back.
"""

from __future__ import annotations

import threading

import msgspec
import numpy as np
import zstandard
from numpy.typing import NDArray

from analytics.samples import Floats, Ints

LEVEL = 3
"""zstd's level: 6 saves under 1 % on meter noise and takes three times as long."""

MOST_ODD = 1 / 16
"""A column with a larger share of values off the scale is kept as plain 64-bit numbers."""

WORTH_PACKING = 48
"""Fewer bytes than this are not compressed."""


class WholeColumn(msgspec.Struct, frozen=True, array_like=True):
    """A packed column of whole numbers.

    `width` bytes stand for each step (0: every step is `base`), `by_steps` tells steps from
    distances, `squeezed` that `body` is compressed.
    """

    start: int
    base: int
    factor: int
    width: int
    by_steps: bool
    squeezed: bool
    body: bytes


class FloatColumn(msgspec.Struct, frozen=True, array_like=True):
    """A packed column of measured values: `whole` / `scale`, with what was blank or odd.

    `blanks` has one bit a value (empty: nothing blank). `odd` are the values off the scale as
    64-bit numbers, `odd_at` their places. With `scale` 0 there is no `whole`: `odd` is everything.
    """

    scale: float
    whole: WholeColumn | None
    blanks: bytes = b""
    odd_at: bytes = b""
    odd: bytes = b""


class _Tools(threading.local):
    """Compressors are not for sharing between threads: each thread has its own."""

    def __init__(self) -> None:
        self.squeeze = zstandard.ZstdCompressor(level=LEVEL)
        self.unsqueeze = zstandard.ZstdDecompressor()


_tools = _Tools()


def squeeze(body: bytes) -> bytes:
    """Compressed bytes; `unsqueeze` gives them back."""
    return _tools.squeeze.compress(body)


def unsqueeze(body: bytes) -> bytes:
    """What `squeeze` was given; raises ValueError for anything else."""
    try:
        return _tools.unsqueeze.decompress(body)
    except zstandard.ZstdError as exc:
        raise ValueError(f"compressed bytes are damaged: {exc}") from exc


def pack_whole(values: Ints) -> WholeColumn:
    """Pack whole numbers, losslessly."""
    if not len(values):
        return WholeColumn(0, 0, 1, 0, True, False, b"")
    start = int(values[0])
    steps = np.diff(values)
    if not len(steps) or not (steps != steps[0]).any():
        return WholeColumn(start, int(steps[0]) if len(steps) else 0, 1, 0, True, False, b"")
    by_steps = _spread(steps) <= _spread(values)
    moved = steps if by_steps else values
    base = _middle(moved)
    apart = moved - base
    factor = _common_factor(apart)
    width, body = _narrow(apart // factor)
    squeezed = squeeze(body) if len(body) >= WORTH_PACKING else body
    shorter = len(squeezed) < len(body)
    return WholeColumn(start, base, factor, width, by_steps, shorter, squeezed if shorter else body)


def unpack_whole(column: WholeColumn, count: int) -> Ints:
    """The `count` whole numbers of a packed column; raises ValueError where they do not fit."""
    if not column.width:
        return _even_steps(column, count)
    body = unsqueeze(column.body) if column.squeezed else column.body
    held = count - 1 if column.by_steps else count
    if len(body) != held * column.width:
        raise ValueError(f"{len(body)} bytes do not hold {held} values of {column.width} bytes")
    moved = _widen(body, column.width)
    if column.factor != 1:
        moved *= column.factor
    if column.base:
        moved += column.base
    if not column.by_steps:
        return moved
    values = np.empty(count, dtype=np.int64)
    values[0] = column.start
    np.cumsum(moved, out=values[1:])
    values[1:] += column.start
    return values


def pack_floats(values: Floats, scale: float) -> FloatColumn:
    """Pack measured values that mostly sit on steps of 1 / `scale`, losslessly."""
    blank = np.isnan(values)
    near = np.rint(np.where(np.abs(values) < 2.0**52 / scale, values, 0.0) * scale)
    back = near / scale
    fits = (back.view(np.int64) == values.view(np.int64)) & ~blank
    odd = ~(fits | blank)
    if np.count_nonzero(odd) > MOST_ODD * len(values):
        return FloatColumn(0.0, None, odd=squeeze(_planes(values.view(np.uint64), 8)))
    whole = near.astype(np.int64)
    if not fits.all():
        whole = _carried_on(whole, fits)
    return FloatColumn(
        scale,
        pack_whole(whole),
        blanks=squeeze(np.packbits(blank).tobytes()) if blank.any() else b"",
        odd_at=np.flatnonzero(odd).astype("<u4").tobytes(),
        odd=values[odd].astype("<f8").tobytes(),
    )


def unpack_floats(column: FloatColumn, count: int) -> Floats:
    """The `count` measured values of a packed column; raises ValueError where they do not fit."""
    if column.whole is None:
        body = unsqueeze(column.odd)
        if len(body) != 8 * count:
            raise ValueError(f"{len(body)} bytes do not hold {count} values of 8 bytes")
        return _joined(body, 8).view(np.float64)
    values = unpack_whole(column.whole, count) / column.scale
    if column.blanks:
        bits = np.frombuffer(unsqueeze(column.blanks), dtype=np.uint8)
        values[np.unpackbits(bits, count=count).view(np.bool_)] = np.nan
    if column.odd_at:
        values[np.frombuffer(column.odd_at, dtype="<u4")] = np.frombuffer(column.odd, dtype="<f8")
    return values


def _even_steps(column: WholeColumn, count: int) -> Ints:
    values = np.full(count, column.base, dtype=np.int64)
    if count:
        values[0] = column.start
    return np.cumsum(values) if column.base else np.full(count, column.start, dtype=np.int64)


def _spread(values: Ints) -> float:
    """About how many bits a value takes once the middle is taken off."""
    apart = np.abs((values - _middle(values)).astype(np.float64))
    return float(np.log2(apart + 1.0).mean())


def _middle(values: Ints) -> int:
    place = len(values) // 2
    return int(np.partition(values, place)[place])


def _common_factor(apart: Ints) -> int:
    factor = int(np.gcd.reduce(apart))
    return factor if factor > 1 else 1


def _narrow(apart: Ints) -> tuple[int, bytes]:
    """Bytes a value, and the values in that many bytes; one byte is signed, wider is folded."""
    if int(apart.min()) >= -128 and int(apart.max()) <= 127:
        return 1, apart.astype(np.int8).tobytes()
    folded = ((apart << 1) ^ (apart >> 63)).view(np.uint64)
    largest = int(folded.max())
    width = 2 if largest < 1 << 16 else 4 if largest < 1 << 32 else 8
    return width, _planes(folded, width)


def _widen(body: bytes, width: int) -> Ints:
    if width == 1:
        return np.frombuffer(body, dtype=np.int8).astype(np.int64)
    folded = _joined(body, width).astype(np.uint64)
    return (folded >> np.uint64(1)).view(np.int64) ^ -(folded & np.uint64(1)).view(np.int64)


def _planes(values: NDArray[np.uint64], width: int) -> bytes:
    """The lowest byte of every value, then the next byte of every value, ..."""
    narrow = np.ascontiguousarray(values.astype(f"<u{width}"))
    return narrow.view(np.uint8).reshape(-1, width).T.tobytes()


def _joined(body: bytes, width: int) -> NDArray[np.uint64]:
    planes = np.frombuffer(body, dtype=np.uint8).reshape(width, -1)
    return np.ascontiguousarray(planes.T).view(f"<u{width}").ravel()


def _carried_on(whole: Ints, fits: NDArray[np.bool_]) -> Ints:
    """Where a value does not fit, the one before goes on, so that the steps stay short."""
    last = np.maximum.accumulate(np.where(fits, np.arange(len(whole)), 0))
    return np.where(fits[last], whole[last], 0)
