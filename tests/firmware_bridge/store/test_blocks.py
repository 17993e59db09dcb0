"""A packed hour: small, whole, and honest about damage."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analytics.errors import StoreDamaged
from analytics.samples import rows_of
from firmware_bridge.store.blocks import (
    NUMBER_COLUMNS,
    Block,
    Numbers,
    join_blocks,
    pack_numbers,
    pack_rows,
    unpack_numbers,
    unpack_rows,
)
from tests.bench.store import BEGIN_MS, hour_of_rows
from tests.firmware_bridge.store.stored import assert_same_rows, some_rows

VALUE = st.one_of(
    st.integers(0, 200_000).map(lambda whole: whole / 100),
    st.floats(allow_infinity=True, allow_nan=True),
)
RECORD = st.tuples(
    st.integers(-(10**12), 2 * 10**13), VALUE, VALUE, VALUE, VALUE,
    st.integers(-1, 10**6), st.integers(0, 63),
)  # fmt: skip


def numbers_of(count: int, first: int, at_ms: np.ndarray) -> Numbers:
    """Bookkeeping of a running node, a number skipped here and there for a draw."""
    steps = np.arange(count, dtype=np.int64)
    return Numbers(
        seq=first + steps + steps // 300,
        boot_no=np.ones(count, dtype=np.int64),
        uptime_ms=at_ms - BEGIN_MS + 5000,
        frame_seq=steps + 1,
    )


@given(st.lists(RECORD, max_size=60))
def test_rows_come_back(records: list[tuple[int, float, float, float, float, int, int]]) -> None:
    """Any rows, in any order of time, with blanks and values off the scale."""
    rows = rows_of(records)
    assert_same_rows(rows, unpack_rows(pack_rows(rows)))


def test_bookkeeping_comes_back() -> None:
    """Numbers, boots, uptimes and frames are the same."""
    rows = some_rows(500)
    numbers = numbers_of(500, 90, rows.at_ms)
    back = unpack_numbers(pack_numbers(numbers, rows.at_ms), rows.at_ms)
    for name in NUMBER_COLUMNS:
        assert getattr(back, name).tolist() == getattr(numbers, name).tolist()


def test_a_row_of_six_values_takes_at_most_six_bytes() -> None:
    """An hour at 1 Hz with 0.1 uS/cm and 0.01 C of noise, bookkeeping included: under 3 bytes."""
    rng = np.random.default_rng(5)
    held = 0
    for hour in range(24):
        rows = hour_of_rows(hour, rng)
        numbers = numbers_of(len(rows), 1 + hour * 3700, rows.at_ms)
        held += len(pack_rows(rows)) + len(pack_numbers(numbers, rows.at_ms))
    assert held / (24 * 3600) < 3.0


def test_noise_on_the_finest_digit_still_takes_at_most_six_bytes() -> None:
    """Readings to 0.01 uS/cm and 0.001 C whose noise fills the last digits."""
    rows = some_rows(3600)
    numbers = numbers_of(3600, 1, rows.at_ms)
    assert (len(pack_rows(rows)) + len(pack_numbers(numbers, rows.at_ms))) / 3600 <= 6.0


@given(st.integers(0, 10_000), st.integers(0, 7))
def test_a_flipped_bit_is_noticed(place: int, bit: int) -> None:
    """One bit anywhere in the body: StoreDamaged with a hint, never other values."""
    sealed = bytearray(pack_rows(some_rows(40)))
    sealed[place % len(sealed)] ^= 1 << bit
    with pytest.raises(StoreDamaged) as fault:
        unpack_rows(bytes(sealed))
    assert fault.value.hint


@given(st.binary(max_size=80))
def test_any_bytes_are_refused_in_our_words(body: bytes) -> None:
    """Bytes that were never a block raise StoreDamaged and nothing else."""
    with pytest.raises(StoreDamaged):
        unpack_rows(body)


def test_joined_blocks_are_in_order_of_time_then_number() -> None:
    """Late rows fall into their places; rows of one instant stay in the order they came."""
    early, late = some_rows(5, every_ms=2000), some_rows(5, every_ms=1000, seed=2)
    blocks = [
        Block(rows=late, numbers=numbers_of(5, 100, late.at_ms)),
        Block(rows=early, numbers=numbers_of(5, 1, early.at_ms)),
    ]
    joined = join_blocks(blocks)
    keys = list(zip(joined.rows.at_ms.tolist(), joined.numbers.seq.tolist(), strict=True))
    assert keys == sorted(keys)
    assert len(joined) == 10
