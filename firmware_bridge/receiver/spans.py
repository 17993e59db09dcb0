"""Which numbers of a site are there: a few spans instead of millions of numbers."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Iterator, Sequence

Pair = tuple[int, int]
"""From the first to the last, both included."""


class Spans:
    """Numbers from 1 on that are held, as spans apart from each other, in order."""

    def __init__(self, pairs: Iterable[Pair] = ()) -> None:
        self._firsts: list[int] = []
        self._lasts: list[int] = []
        for first, last in pairs:
            self.add(first, last)

    def add(self, first: int, last: int) -> None:
        """Hold the numbers from `first` to `last`; raises ValueError where they are none."""
        if not 0 < first <= last:
            raise ValueError(f"{first} to {last} is no span of numbers")
        start = bisect_left(self._lasts, first - 1)
        stop = bisect_right(self._firsts, last + 1)
        if start < stop:
            first = min(first, self._firsts[start])
            last = max(last, self._lasts[stop - 1])
        self._firsts[start:stop] = [first]
        self._lasts[start:stop] = [last]

    def __contains__(self, number: int) -> bool:
        place = bisect_right(self._firsts, number) - 1
        return place >= 0 and number <= self._lasts[place]

    def __len__(self) -> int:
        return len(self._firsts)

    @property
    def up_to(self) -> int:
        """The highest number before the first that is missing."""
        return self._lasts[0] if self._firsts and self._firsts[0] == 1 else 0

    @property
    def highest(self) -> int:
        """The highest number held; 0 for none."""
        return self._lasts[-1] if self._lasts else 0

    def missing(self, most: int) -> list[Pair]:
        """The first gaps below the highest number, at most so many."""
        before = 0
        gaps: list[Pair] = []
        for first, last in zip(self._firsts, self._lasts, strict=True):
            if first > before + 1:
                gaps.append((before + 1, first - 1))
                if len(gaps) == most:
                    break
            before = last
        return gaps

    def pairs(self) -> list[Pair]:
        """All spans, in order."""
        return list(zip(self._firsts, self._lasts, strict=True))


def runs(numbers: Sequence[int]) -> Iterator[Pair]:
    """Numbers in any order as spans of neighbours."""
    first = last = 0
    for number in sorted(numbers):
        if first and number == last + 1:
            last = number
            continue
        if first:
            yield first, last
        first = last = number
    if first:
        yield first, last
