"""Numbers held as spans are the same as numbers held one by one."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firmware_bridge.receiver.spans import Spans

PAIRS = st.lists(st.tuples(st.integers(1, 60), st.integers(0, 9)).map(lambda p: (p[0], sum(p))))


@given(PAIRS)
def test_spans_are_a_set_of_numbers(pairs: list[tuple[int, int]]) -> None:
    """Whatever is added in whatever order, the spans tell what a plain set tells."""
    spans = Spans(pairs)
    plain = {n for first, last in pairs for n in range(first, last + 1)}
    held = {n for first, last in spans.pairs() for n in range(first, last + 1)}

    assert held == plain
    assert all((n in spans) == (n in plain) for n in range(0, 72))
    assert spans.highest == max(plain, default=0)
    assert spans.up_to == next(n for n in range(0, 72) if n + 1 not in plain)
    gaps = {n for first, last in spans.missing(99) for n in range(first, last + 1)}
    assert gaps == set(range(1, spans.highest + 1)) - plain


@given(PAIRS)
def test_spans_lie_apart_in_order(pairs: list[tuple[int, int]]) -> None:
    """Neighbours are joined, so that a receiver without gaps holds a single span."""
    found = Spans(pairs).pairs()

    assert all(last + 1 < first for (_, last), (first, _) in pairwise(found))
    assert Spans(found).pairs() == found


@pytest.mark.parametrize("pair", [(0, 3), (-1, 1), (5, 4)])
def test_no_numbers_are_refused(pair: tuple[int, int]) -> None:
    """Numbers begin at 1, and a span does not end before it begins."""
    with pytest.raises(ValueError, match="is no span"):
        Spans([pair])
