"""A café's week: when it is open and what it draws. The same seed is the same week."""

from __future__ import annotations

import random

import msgspec

from analytics.samples import DAY_MS, MINUTE_MS

WEEKDAY_BUSY = (0.85, 0.9, 0.95, 1.0, 1.15, 1.3, 0.95)
HOUR_BUSY = {7: 1.2, 8: 1.9, 9: 1.6, 10: 1.2, 11: 1.0, 12: 1.3, 13: 1.2, 14: 0.9, 15: 0.9, 16: 0.8}
LATE_BUSY = 0.6
OPENING = ((420, 1080),) * 5 + ((480, 1080), (540, 960))


class Draw(msgspec.Struct, frozen=True):
    """Water runs from `start_ms` to `stop_ms`."""

    start_ms: int
    stop_ms: int
    litres: float

    @property
    def l_per_ms(self) -> float:
        """Its flow."""
        return self.litres / (self.stop_ms - self.start_ms)


class Habit(msgspec.Struct, frozen=True):
    """A kind of draw: how many on an ordinary day, litres with their spread (a factor), L/min."""

    a_day: float
    litres: float
    l_min: float
    spread: float


HABITS = (
    Habit(260.0, 0.085, 0.20, 0.25),  # a shot with its flush, at brew flow
    Habit(70.0, 0.28, 2.4, 0.30),  # hot water for tea
    Habit(60.0, 0.45, 1.6, 0.20),  # the steam boiler fills up
    Habit(90.0, 0.12, 3.0, 0.40),  # a jug is rinsed
    Habit(9.0, 2.1, 2.0, 0.08),  # a batch of filter coffee
    Habit(8.0, 1.0, 3.2, 0.15),  # a carafe for the table
)


class Week:
    """The draws of any day. `opening` as in a site's set-up: minutes of the local day."""

    def __init__(
        self,
        seed: int,
        *,
        busy: float = 1.0,
        opening: tuple[tuple[int, int], ...] = OPENING,
        utc_offset_ms: int = 0,
    ) -> None:
        self._seed = seed
        self._busy = busy
        self._opening = opening
        self._offset_ms = utc_offset_ms

    def day_of(self, at_ms: int) -> int:
        """Number of the local day of an instant."""
        return (at_ms + self._offset_ms) // DAY_MS

    def draws(self, day: int) -> list[Draw]:
        """All draws of a local day in order, none overlapping."""
        first, last = self._opening[(day + 3) % 7]
        if last <= first:
            return []
        chance = random.Random(f"week {self._seed} {day}")
        wanted: list[tuple[int, Habit]] = []
        for minute in range(first, last):
            hour = HOUR_BUSY.get(minute // 60, LATE_BUSY)
            share = hour * WEEKDAY_BUSY[(day + 3) % 7] * self._busy / 720.0
            wanted += [
                (minute * MINUTE_MS + chance.randrange(MINUTE_MS), habit)
                for habit in HABITS
                for _ in range(_how_many(habit.a_day * share, chance))
            ]
        start_of_day = day * DAY_MS - self._offset_ms
        return _one_after_the_other(sorted(wanted, key=lambda w: w[0]), start_of_day, chance)


def _how_many(expected: float, chance: random.Random) -> int:
    """A Poisson number, for small expectations."""
    many, left = 0, chance.expovariate(1.0)
    while left < expected:
        many += 1
        left += chance.expovariate(1.0)
    return many


def _one_after_the_other(
    wanted: list[tuple[int, Habit]], zero_ms: int, chance: random.Random
) -> list[Draw]:
    found: list[Draw] = []
    free_ms = 0
    for wish_ms, habit in wanted:
        start = max(wish_ms, free_ms)
        litres = habit.litres * chance.lognormvariate(0.0, habit.spread)
        l_min = habit.l_min * chance.lognormvariate(0.0, 0.1)
        stop = start + max(round(litres / l_min * MINUTE_MS), 500)
        found.append(Draw(zero_ms + start, zero_ms + stop, litres))
        free_ms = stop + 500
    return found
