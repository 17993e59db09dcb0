"""A level of whole days that moved at once, held against how it moves from day to day by itself."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

import msgspec
import numpy as np

LEAST_DAYS: Final = 6
LOOKED_BACK: Final = 14
CLEAR: Final = 6.0
"""Times the usual move from a day to the next; a steady slope makes three of them."""
SETTLED: Final = 0.2
"""Before and after a step the level moves by less than this share of it; a slope does not."""

STAYS: Final = 0.5
"""And afterwards it does not go on the same way by more than this share of it."""


class DayStep(msgspec.Struct, frozen=True, kw_only=True):
    """By how much a level (ln) stepped, between which days, and how it moves by itself.

    `place` is of the day on which it stepped: it may hold some of both levels.
    """

    by: float = 0.0
    place: int = 0
    usual: float = 0.0
    settled: bool = False

    def clear(self, least: float) -> bool:
        """Whether it is a step of `least` (ln) and well beyond the usual."""
        return self.settled and abs(self.by) >= max(least, CLEAR * self.usual)


def step_of(values: Sequence[float]) -> DayStep:
    """The largest step of a level between two days before and two days after; NaN days are left
    out."""
    known = [(place, v) for place, v in enumerate(values) if math.isfinite(v)][-LOOKED_BACK:]
    if len(known) < LEAST_DAYS:
        return DayStep()
    levels = np.array([v for _, v in known])
    turns = np.arange(2, len(levels) - 2)  # the day on which it happens
    after = 0.5 * (levels[turns + 1] + levels[turns + 2])
    before = 0.5 * (levels[turns - 1] + levels[turns - 2])
    at = int(turns[np.argmax(np.abs(after - before))])
    by = float(0.5 * (levels[at + 1] + levels[at + 2] - levels[at - 1] - levels[at - 2]))
    begun = at if abs(levels[at] - levels[at - 1]) >= SETTLED * abs(by) else at + 1
    diffs = np.diff(levels)
    others = np.delete(diffs, [at - 1, at])
    way = math.copysign(1.0, by)
    ahead = way * float(levels[at - 1] - levels[at - 2])
    behind = abs(float(levels[at + 2] - levels[at + 1]))
    goes_on = way * float(levels[-1] - levels[at + 2])
    return DayStep(
        by=by,
        place=known[begun][0],
        usual=float(np.median(np.abs(others))),
        settled=max(ahead, behind) < SETTLED * abs(by) and goes_on < STAYS * abs(by),
    )


def moved_at(values: Sequence[float], place: int) -> float:
    """How a level moved from the two days before a place to the two after it; 0 where too few are
    known."""
    before = [v for v in values[:place] if math.isfinite(v)][-2:]
    after = [v for v in values[place + 1 :] if math.isfinite(v)][:2]
    if not before or not after:
        return 0.0
    return sum(after) / len(after) - sum(before) / len(before)
