"""Columns of numbers come back as they were, however odd they are."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from firmware_bridge.store.packing import (
    pack_floats,
    pack_whole,
    squeeze,
    unpack_floats,
    unpack_whole,
    unsqueeze,
)

WHOLE = st.one_of(
    st.integers(-(2**63), 2**63 - 1),
    st.integers(-300, 300),
    st.integers(0, 3).map(lambda k: k * 10),
)
ON_SCALE = st.integers(-(10**7), 10**7).map(lambda whole: whole / 100)
ANY_FLOAT = st.floats(width=64)


@given(st.lists(WHOLE, max_size=200))
def test_whole_numbers_of_any_size_come_back(values: list[int]) -> None:
    """Every 64-bit number survives, the smallest and largest in one column too."""
    column = np.array(values, dtype=np.int64)
    assert unpack_whole(pack_whole(column), len(values)).tolist() == values


@given(st.lists(st.one_of(ON_SCALE, ANY_FLOAT, st.just(float("nan"))), max_size=120))
def test_measured_values_come_back_bit_for_bit(values: list[float]) -> None:
    """On the scale or off it, infinite, minus zero: the bits are the same; NaN stays NaN."""
    column = np.array(values, dtype=np.float64)
    back = unpack_floats(pack_floats(column, 100.0), len(values))
    blank = np.isnan(column)
    assert np.isnan(back).tolist() == blank.tolist()
    assert back[~blank].tobytes() == column[~blank].tobytes()


@given(st.lists(ON_SCALE, min_size=50, max_size=120), st.data())
def test_a_few_odd_values_do_not_cost_the_others_their_packing(
    values: list[float], data: st.DataObject
) -> None:
    """One value off the scale and one blank are kept aside; the rest stays on the scale."""
    odd = data.draw(st.integers(0, len(values) - 1))
    values[odd] = 1 / 3
    values[odd - 1] = float("nan")
    packed = pack_floats(np.array(values), 100.0)
    assert packed.scale == 100.0
    np.testing.assert_array_equal(unpack_floats(packed, len(values)), values)


def test_a_still_meter_takes_no_room() -> None:
    """A column that does not move, or moves evenly, has no body."""
    even = np.arange(3600, dtype=np.int64) * 1000 + 5
    assert pack_whole(even).body == b""
    assert pack_whole(np.zeros(3600, dtype=np.int64)).body == b""
    assert unpack_whole(pack_whole(even), 3600).tolist() == even.tolist()


def test_resolution_coarser_than_the_scale_is_not_paid_for() -> None:
    """Values in steps of 0.5 on a scale of 0.01 need one byte each at most."""
    rng = np.random.default_rng(3)
    values = rng.integers(0, 200, 3600) * 0.5
    packed = pack_floats(values, 100.0)
    assert packed.whole is not None
    assert packed.whole.factor == 50
    assert len(packed.whole.body) <= 3600


@pytest.mark.parametrize("count", [0, 1, 99, 101, 5000])
def test_a_body_of_another_length_is_refused(count: int) -> None:
    """A count that does not fit the body is a fault, not a shorter column."""
    packed = pack_whole(np.array([1, 5, 2, 700] * 25, dtype=np.int64))
    with pytest.raises(ValueError, match="do not hold"):
        unpack_whole(packed, count)


@given(st.binary(max_size=60))
def test_bytes_that_are_not_compressed_are_refused(body: bytes) -> None:
    """Damaged bytes raise ValueError and nothing else."""
    try:
        back = unsqueeze(body)
    except ValueError:
        return
    assert unsqueeze(squeeze(back)) == back
