"""How long to wait before the next try, and how loudly to say so."""

from __future__ import annotations

import random


class Backoff:
    """Waits that double up to `most_s`, each shortened at random by up to a half.

    So many boxes that lost one broker at one moment do not all come back at one moment. `chance`
    gives numbers in [0, 1).
    """

    def __init__(
        self, first_s: float = 0.5, most_s: float = 60.0, *, chance: random.Random | None = None
    ) -> None:
        self._first_s = first_s
        self._most_s = most_s
        self._chance = chance or random.Random()
        self.tries = 0

    def failed(self) -> float:
        """One more try failed: seconds to wait."""
        full = min(self._first_s * 2.0 ** min(self.tries, 30), self._most_s)
        self.tries += 1
        return full * (1.0 - 0.5 * self._chance.random())

    def worked(self) -> int:
        """A try worked: how many had failed before it; the next wait is the shortest again."""
        tries, self.tries = self.tries, 0
        return tries

    @property
    def first(self) -> bool:
        """Whether the last failure was the first of its row: say it once loudly, then quietly."""
        return self.tries == 1
