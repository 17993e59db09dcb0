"""Which beads of the bed are spent, and the two paths that draw them.

A row of `used_rows` is the probability that the used share lies beyond that row. The beads of a row
have an order in which they turn: by a number spread over (0, 1) with a two-dimensional additive
recurrence (the plane's analogue of the golden ratio; Roberts 2018, "The unreasonable effectiveness
of quasirandom sequences"), so that no pattern is seen. As many of them are spent as the probability
says, to within half a bead; a bead turns once, and the same estimate always draws the same picture.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import cache
from itertools import groupby

PITCH_X, PITCH_Y = 16, 14
ROWS, HEEL_ROWS = 30, 3
BED_WIDTH = 160
BED_HEIGHT = ROWS * PITCH_Y
ACROSS, DOWN = 0.754878, 0.569840


def beads_in(row: int) -> int:
    """Beads of a row: ten, and nine in the gaps."""
    return 9 if row % 2 else 10


@cache
def turning_points(row: int) -> tuple[float, ...]:
    """For each bead of a row the probability beyond which it is spent: (rank + 0.5) / beads."""
    count = beads_in(row)
    numbers = [(ACROSS * i + DOWN * row + 0.5) % 1.0 for i in range(count)]
    order = sorted(range(count), key=numbers.__getitem__)
    return tuple((order.index(i) + 0.5) / count for i in range(count))


def is_spent(row: int, bead: int, probability: float) -> bool:
    """Whether this bead is drawn spent when its row is spent with this probability."""
    return turning_points(row)[bead] < probability


def paths(rows: Sequence[float]) -> tuple[str, str]:
    """Path data of the spent and of the fresh beads; a run of equal beads is one stretch.

    Drawn with round caps and a dash of length 0 every `PITCH_X`, each stretch is a row of discs.
    """
    spent = _path(rows, lambda row, bead, p: is_spent(row, bead, p))
    fresh = _path(rows, lambda row, bead, p: not is_spent(row, bead, p))
    return spent, fresh


def all_beads() -> str:
    """Path data of every bead, for a bed of which nothing is known."""
    return _path((0.0,) * (ROWS + HEEL_ROWS), lambda *_: True)


def heel() -> str:
    """Path data of the beads under the end line alone."""
    return _path((0.0,) * (ROWS + HEEL_ROWS), lambda row, *_: row >= ROWS)


def _path(rows: Sequence[float], chosen: Callable[[int, int, float], bool]) -> str:
    return "".join(
        stretch
        for row, p in enumerate(rows)
        for stretch in _row(row, [chosen(row, i, p) for i in range(beads_in(row))])
    )


def _row(row: int, marks: list[bool]) -> list[str]:
    first_x = 16 if row % 2 else 8
    out: list[str] = []
    for marked, run in groupby(range(len(marks)), key=marks.__getitem__):
        beads = list(run)
        if marked:
            x = first_x + PITCH_X * beads[0]
            length = PITCH_X * (len(beads) - 1) + 1
            out.append(f"M{x} {PITCH_Y // 2 + PITCH_Y * row}h{length}")
    return out
