"""Exactly once: the set of frames a boot has in the store, checked against a plain set."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from firmware_bridge.store.frames import Frames

ARRIVALS = st.lists(st.lists(st.integers(1, 40), max_size=12), max_size=12)


@given(ARRIVALS)
def test_fresh_and_confirmed_agree_with_a_set(arrivals: list[list[int]]) -> None:
    """In any order, doubled, with gaps: fresh is what the set lacks, confirmed its gapless head."""
    frames, here = Frames(), set[int]()
    for numbers in arrivals:
        arrived = np.array(numbers, dtype=np.int64)
        fresh = arrived[frames.fresh(arrived)].tolist()
        assert len(fresh) == len(set(fresh))
        assert set(fresh) == set(numbers) - here
        here |= set(numbers)
        frames = frames.after(arrived, 1)
        head = next(number for number in range(1, 60) if number not in here) - 1
        assert frames.done_up_to == head


@given(ARRIVALS, st.integers(1, 45))
def test_frames_past_having_are_counted_and_not_waited_for(
    arrivals: list[list[int]], frames_from: int
) -> None:
    """What the node can no longer give counts as given up, exactly once."""
    frames, here = Frames(), set[int]()
    for numbers in arrivals:
        frames = frames.after(np.array(numbers, dtype=np.int64), 1)
        here |= set(numbers)
    assert frames.given_up(frames_from) == len(set(range(1, frames_from)) - here)
    after = frames.after(np.empty(0, dtype=np.int64), frames_from)
    assert after.done_up_to >= frames_from - 1
    assert after.given_up(frames_from) == 0


def test_rows_without_a_number_are_always_fresh() -> None:
    """A source that numbers nothing is never taken for a double."""
    unnumbered = np.full(4, -1)
    assert Frames().after(unnumbered, 1).fresh(unnumbered).all()
