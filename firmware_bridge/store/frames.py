"""Exactly once: which frames of a boot are in the store, and up to which number without a gap."""

from __future__ import annotations

import msgspec
import numpy as np
from numpy.typing import NDArray

from analytics.samples import Ints


class Frames(msgspec.Struct, frozen=True):
    """All frames up to `done_up_to` are durable or past having; `ahead` are runs beyond a gap.

    The runs are (first, last), in order, apart from each other by at least one missing frame.
    """

    done_up_to: int = -1
    ahead: tuple[tuple[int, int], ...] = ()

    def fresh(self, frame_seq: Ints) -> NDArray[np.bool_]:
        """Which entries are not here yet; of twins the first; unnumbered (negative) ones always."""
        first_of_its_number = np.zeros(len(frame_seq), dtype=np.bool_)
        first_of_its_number[np.unique(frame_seq, return_index=True)[1]] = True
        here = frame_seq <= self.done_up_to
        if self.ahead:
            runs = np.array(self.ahead, dtype=np.int64)
            place = np.searchsorted(runs[:, 0], frame_seq, side="right") - 1
            here |= (place >= 0) & (frame_seq <= runs[np.maximum(place, 0), 1])
        return (first_of_its_number & ~here) | (frame_seq < 0)

    def after(self, frame_seq: Ints, frames_from: int) -> Frames:
        """With these frames added, and nothing below `frames_from` waited for any longer."""
        runs = sorted((*self.ahead, *_runs(np.unique(frame_seq[frame_seq >= 0]))))
        done = max(self.done_up_to, frames_from - 1)
        ahead: list[tuple[int, int]] = []
        for first, last in runs:
            if first <= done + 1:
                done = max(done, last)
            elif ahead and first <= ahead[-1][1] + 1:
                ahead[-1] = (ahead[-1][0], max(ahead[-1][1], last))
            else:
                ahead.append((first, last))
        return Frames(done, tuple(ahead))

    def given_up(self, frames_from: int) -> int:
        """How many frames below `frames_from` never came and cannot come any more."""
        missing = frames_from - 1 - max(self.done_up_to, 0)
        for first, last in self.ahead:
            missing -= max(min(last, frames_from - 1) - first + 1, 0)
        return max(missing, 0)


def as_text(frames: Frames) -> str:
    """The runs ahead as the file keeps them, in JSON."""
    return "[" + ",".join(f"[{first},{last}]" for first, last in frames.ahead) + "]"


def _runs(numbers: Ints) -> list[tuple[int, int]]:
    if not len(numbers):
        return []
    ends = np.flatnonzero(np.diff(numbers) > 1)
    firsts = numbers[np.concatenate(([0], ends + 1))]
    lasts = numbers[np.concatenate((ends, [len(numbers) - 1]))]
    return list(zip(firsts.tolist(), lasts.tolist(), strict=True))
