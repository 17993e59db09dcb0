"""How fast one token may ask: a burst, then so many a second; kept in memory."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable

BURST, A_SECOND = 60.0, 20.0
MOST_TOKENS = 5000


class Pace:
    """A bucket a token; `clock` gives seconds that only go forwards."""

    def __init__(
        self, clock: Callable[[], float], burst: float = BURST, a_second: float = A_SECOND
    ) -> None:
        self._clock = clock
        self._burst = burst
        self._a_second = a_second
        self._left: OrderedDict[int, tuple[float, float]] = OrderedDict()

    def wait_s(self, token_no: int, weight: float = 1.0) -> float:
        """Seconds this token has to wait; 0: it may ask now, and that was counted.

        What costs more counts for more.
        """
        now = self._clock()
        left, at = self._left.pop(token_no, (self._burst, now))
        left = min(self._burst, left + (now - at) * self._a_second)
        wait_s = 0.0 if left >= weight else (weight - left) / self._a_second
        self._left[token_no] = (left if wait_s else left - weight, now)
        while len(self._left) > MOST_TOKENS:
            self._left.popitem(last=False)
        return wait_s
