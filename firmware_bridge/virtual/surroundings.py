"""What the café cannot help: raw water and temperatures over the day and the year.

Every figure is a function of the instant alone, so that any moment can be asked for.
"""

from __future__ import annotations

import random
from math import pi, sin

DAY_MS = 86_400_000.0
YEAR_DAYS = 365.25


class Surroundings:
    """Raw water as a factor on its usual strength, mains and room temperature, from a seed."""

    def __init__(self, seed: int) -> None:
        chance = random.Random(f"surroundings {seed}")
        self._waves = [
            (amplitude, 2.0 * pi / (period * DAY_MS), 2.0 * pi * chance.random())
            for amplitude, period in (
                (0.030, YEAR_DAYS),  # wet and dry season
                (0.008, 23.0),
                (0.006, 6.1),
                (0.004, 1.0),  # the works blend by the hour of the day
            )
        ]

    def raw_factor(self, at_ms: int) -> float:
        """Strength of raw water now over its usual strength."""
        return 1.0 + sum(high * sin(turn * at_ms + start) for high, turn, start in self._waves)

    def mains_c(self, at_ms: int) -> float:
        """Temperature of the main: coldest in February, warmest in August (north)."""
        return 13.0 - 5.0 * sin(2.0 * pi * (at_ms / DAY_MS / YEAR_DAYS + 0.13))

    def room_c(self, at_ms: int) -> float:
        """Temperature under the counter: warm by day, cooler by night."""
        return 23.0 - 2.0 * sin(2.0 * pi * (at_ms / DAY_MS + 0.15))


def natural_ratio(temp_c: float) -> float:
    """Conductivity at a temperature over that at 25 C.

    A water of its own: within 1 % of the natural waters' curve of ISO 7888 from 5 to 30 C, as real
    waters are, but not on it.
    """
    d = temp_c - 25.0
    return 1.0 + d * (0.0209 + d * 6.2e-5)
