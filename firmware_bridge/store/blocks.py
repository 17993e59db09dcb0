"""A block: readings of one line of one hour, packed into two sealed bodies.

meters  = columns of `Rows`                              read by charts and replay
numbers = seq, boot number, uptime, frame number          read by sinks and re-dating
body    = MessagePack (version, count, columns) + CRC-32 of it, 4 bytes little-endian
"""

from __future__ import annotations

import zlib

import msgspec
import numpy as np

from analytics.errors import StoreDamaged
from analytics.samples import CHANNELS, ROW_COLUMNS, Ints, Rows, no_rows
from firmware_bridge.store.packing import (
    FloatColumn,
    WholeColumn,
    pack_floats,
    pack_whole,
    unpack_floats,
    unpack_whole,
)

VERSION = 1

SCALES = {
    "outlet_us_cm": 100.0,  # 0.01 uS/cm
    "outlet_temp_c": 1000.0,  # 0.001 C
    "inlet_us_cm": 100.0,
    "inlet_temp_c": 1000.0,
}
NUMBER_COLUMNS = ("seq", "boot_no", "uptime_ms", "frame_seq")


class Numbers(msgspec.Struct, frozen=True, kw_only=True):
    """Bookkeeping beside the rows: site number, boot, node's time and frame number of each."""

    seq: Ints
    boot_no: Ints
    uptime_ms: Ints
    frame_seq: Ints

    def __len__(self) -> int:
        return len(self.seq)

    def taken(self, places: Ints) -> Numbers:
        """The entries at these places, in their order."""
        return Numbers(**{name: getattr(self, name)[places] for name in NUMBER_COLUMNS})


class Block(msgspec.Struct, frozen=True, kw_only=True):
    """Rows with their bookkeeping, entry for entry."""

    rows: Rows
    numbers: Numbers

    def __len__(self) -> int:
        return len(self.rows)

    def taken(self, places: Ints) -> Block:
        """The rows at these places, in their order."""
        return Block(rows=rows_at(self.rows, places), numbers=self.numbers.taken(places))


class _Meters(msgspec.Struct, frozen=True, array_like=True):
    version: int
    count: int
    whole: tuple[WholeColumn, WholeColumn, WholeColumn]
    measured: tuple[FloatColumn, FloatColumn, FloatColumn, FloatColumn]


class _Numbers(msgspec.Struct, frozen=True, array_like=True):
    version: int
    count: int
    whole: tuple[WholeColumn, WholeColumn, WholeColumn, WholeColumn]


_read_meters = msgspec.msgpack.Decoder(_Meters)
_read_numbers = msgspec.msgpack.Decoder(_Numbers)
_write = msgspec.msgpack.Encoder()


def rows_at(rows: Rows, places: Ints) -> Rows:
    """The rows at these places, in their order."""
    return Rows(**{name: getattr(rows, name)[places] for name in ROW_COLUMNS})


def join_blocks(blocks: list[Block]) -> Block:
    """One block of all, sorted by instant and, within an instant, by site number."""
    if not blocks:
        return no_block()
    rows = {n: np.concatenate([getattr(b.rows, n) for b in blocks]) for n in ROW_COLUMNS}
    numbers = {n: np.concatenate([getattr(b.numbers, n) for b in blocks]) for n in NUMBER_COLUMNS}
    return in_order(Block(rows=Rows(**rows), numbers=Numbers(**numbers)))


def in_order(block: Block) -> Block:
    """The block sorted by instant and, within an instant, by site number."""
    at_ms, seq = block.rows.at_ms, block.numbers.seq
    if (
        not len(at_ms)
        or ((np.diff(at_ms) > 0) | ((np.diff(at_ms) == 0) & (np.diff(seq) > 0))).all()
    ):
        return block
    return block.taken(np.lexsort((seq, at_ms)))


def no_block() -> Block:
    """A block of no rows."""
    empty = {name: np.empty(0, dtype=np.int64) for name in NUMBER_COLUMNS}
    return Block(rows=no_rows(), numbers=Numbers(**empty))


def pack_rows(rows: Rows) -> bytes:
    """The rows as a sealed body."""
    body = _Meters(
        VERSION,
        len(rows),
        (pack_whole(rows.at_ms), pack_whole(rows.pulses), pack_whole(rows.flags)),
        tuple(pack_floats(getattr(rows, name), SCALES[name]) for name in CHANNELS),  # type: ignore[arg-type]
    )
    return _sealed(_write.encode(body))


def unpack_rows(sealed: bytes) -> Rows:
    """The rows of a sealed body; raises StoreDamaged where it is not whole."""
    try:
        body = _read_meters.decode(_opened(sealed))
        at_ms, pulses, flags = (unpack_whole(column, body.count) for column in body.whole)
        measured = {
            name: unpack_floats(column, body.count)
            for name, column in zip(CHANNELS, body.measured, strict=True)
        }
    except (msgspec.MsgspecError, ValueError) as exc:
        raise _damaged(exc) from exc
    return Rows(at_ms=at_ms, pulses=pulses, flags=flags, **measured)


def pack_numbers(numbers: Numbers, at_ms: Ints) -> bytes:
    """The bookkeeping as a sealed body; uptime is kept as its distance from `at_ms`."""
    columns = (
        pack_whole(numbers.seq),
        pack_whole(numbers.boot_no),
        pack_whole(at_ms - numbers.uptime_ms),
        pack_whole(numbers.frame_seq),
    )
    return _sealed(_write.encode(_Numbers(VERSION, len(numbers), columns)))


def unpack_numbers(sealed: bytes, at_ms: Ints) -> Numbers:
    """The bookkeeping of rows at `at_ms`; raises StoreDamaged where it is not whole."""
    try:
        body = _read_numbers.decode(_opened(sealed))
        seq, boot_no, apart, frame_seq = (unpack_whole(c, body.count) for c in body.whole)
        uptime_ms = at_ms - apart
    except (msgspec.MsgspecError, ValueError) as exc:
        raise _damaged(exc) from exc
    return Numbers(seq=seq, boot_no=boot_no, uptime_ms=uptime_ms, frame_seq=frame_seq)


def _sealed(body: bytes) -> bytes:
    return body + zlib.crc32(body).to_bytes(4, "little")


def _opened(sealed: bytes) -> bytes:
    body = sealed[:-4]
    if zlib.crc32(body).to_bytes(4, "little") != sealed[-4:]:
        raise ValueError("its check sum does not fit")
    return body


def _damaged(exc: Exception) -> StoreDamaged:
    return StoreDamaged(
        f"a block of readings cannot be read: {exc}",
        "Restore the site's file from a backup; draws and estimates of that hour are not affected.",
    )
