"""What both probes said since the cartridge was fitted, kept short, to be weighed again.

A guess that is drawn anew must answer for all that was read, not only for what comes. So the looks
are kept: litres, days, inlet and ratio of each; old ones are put together in twos when they grow
many, which loses little where the ratio hardly moves.
"""

from __future__ import annotations

from typing import Final

import msgspec
import numpy as np

from analytics.samples import DropTest, Floats, Point

MOST: Final = 60
"""Looks that are kept apart; beyond, the older two thirds are put together in twos."""


def _none() -> Floats:
    return np.zeros(0)


class Past(msgspec.Struct, frozen=True, kw_only=True):
    """Looks at one cartridge in order: days since the look before, litres passed since it was
    fitted, ln(EC25) of the inlet and ln(outlet / inlet). `gain` and `gain_var` are what was known
    of the probes before the first. `tests` are drop tests with the litres that had passed, and
    `bypass` is the setting. `whole` is False where something was read that is not in it, `water`
    where raw water or bypass are no longer what all of the tests were of.
    """

    days: Floats = msgspec.field(default_factory=_none)
    litres: Floats = msgspec.field(default_factory=_none)
    inlet: Floats = msgspec.field(default_factory=_none)
    ratio: Floats = msgspec.field(default_factory=_none)
    gain: float = 0.0
    gain_var: float = 0.0
    whole: bool = False
    water: bool = False
    bypass: float = 0.0
    tests: tuple[tuple[float, DropTest], ...] = ()


def without_looks(past: Past, *, whole: bool, cartridge: bool = False) -> Past:
    """Nothing read yet; tests of raw water still hold, and those of this cartridge."""
    kept = tuple(t for t in past.tests if t[1].point is Point.RAW or not cartridge)
    return Past(whole=whole, water=past.water, bypass=past.bypass, tests=kept)


def of_other_water(past: Past) -> Past:
    """Another raw water or bypass from here on: tests so far were not of it."""
    return msgspec.structs.replace(past, water=False, tests=())


def with_test(past: Past, litres: float, test: DropTest) -> Past:
    """The past with one more drop test."""
    return msgspec.structs.replace(past, tests=(*past.tests, (litres, test)))


def with_look(past: Past, days: float, litres: float, inlet: float, ratio: float) -> Past:
    """The past with one more look."""
    past = msgspec.structs.replace(
        past,
        days=np.append(past.days, days),
        litres=np.append(past.litres, litres),
        inlet=np.append(past.inlet, inlet),
        ratio=np.append(past.ratio, ratio),
    )
    return past if len(past.days) <= MOST else _shorter(past)


def _shorter(past: Past) -> Past:
    """The older two thirds in twos: days add up, the rest is the mean of both."""
    upto = len(past.days) // 3 * 2 // 2 * 2

    def mean(values: Floats) -> Floats:
        pairs = values[:upto].reshape(-1, 2).mean(axis=1)
        return np.concatenate((pairs, values[upto:]))

    ends = np.cumsum(past.days)
    middles = mean(ends)
    return msgspec.structs.replace(
        past,
        days=np.diff(middles, prepend=0.0),
        litres=mean(past.litres),
        inlet=mean(past.inlet),
        ratio=mean(past.ratio),
    )
