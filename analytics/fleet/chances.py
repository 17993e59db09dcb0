"""How probable it is that a cartridge ends by a day, from the three figures that are known of it.

An estimate travels as its 5, 50 and 95 % points. The distribution put through them is a split
normal joined at its median: below the median one normal half, above it another, each as wide as its
own side. All three points are honoured exactly. A form on logarithms would leave no room for a
range that begins at zero, and near the end, where it matters, every range does: what is left is a
capacity less what was used, about normal there, and cut off at nothing.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from analytics.normal import normal_cdf
from analytics.samples import Floats, Spread

Z95: Final = 1.6449
SHUT_SHARE: Final = 1.0
"""A site that is silent may have drawn nothing at all in the meantime ..."""
BUSY_SHARE: Final = 0.5
"""... or half as much again as was expected (common practice, no source)."""


def chance_of_end_by(p05: float, p50: float, p95: float, days: float) -> float:
    """Chance that a cartridge has ended `days` from now; the points are in days from now too.

    Three equal points are a date that is fixed: no chance before it, certainty from it on.
    """
    off = days - p50
    width = p50 - p05 if off < 0.0 else p95 - p50
    if width <= 0.0:
        return 0.0 if off < 0.0 else 1.0
    return 0.5 * math.erfc(-Z95 * off / width * math.sqrt(0.5))


def chances_of_end_by(p05: ArrayLike, p50: ArrayLike, p95: ArrayLike, days: ArrayLike) -> Floats:
    """The same for arrays that fit each other; NaN where a point is NaN."""
    low, middle, high, when = (
        np.asarray(each, dtype=np.float64) for each in np.broadcast_arrays(p05, p50, p95, days)
    )
    off = when - middle
    width = np.where(off < 0.0, middle - low, high - middle)
    with np.errstate(divide="ignore", invalid="ignore"):
        z = Z95 * off / width
    fixed = np.where(off < 0.0, -np.inf, np.inf)
    z = np.where(width > 0.0, z, fixed)
    chance = normal_cdf(np.clip(z, -9.0, 9.0))
    unknown = np.isnan(low) | np.isnan(middle) | np.isnan(high) | np.isnan(when)
    return np.asarray(np.where(unknown, np.nan, chance))


def aged(ahead: Spread, silent_days: float) -> Spread:
    """Days to the end as today knows them, from an estimate (`ahead`: days from now to the dates it
    named) that is `silent_days` old.

    In the meantime nothing may have been drawn (the end comes later by as many days), or half as
    much again as expected; both count as 5 and 95 % points and are joined with the estimate's own
    range as independent errors.
    """
    silent = max(silent_days, 0.0)
    down = float(np.hypot(ahead.p50 - ahead.p05, BUSY_SHARE * silent))
    up = float(np.hypot(ahead.p95 - ahead.p50, SHUT_SHARE * silent))
    return Spread(
        p05=ahead.p05 if down == 0.0 else ahead.p50 - down, p50=ahead.p50, p95=ahead.p50 + up
    )


def silent_range(ahead: Spread, silent_days: float, days: float) -> tuple[float, float]:
    """Least and greatest chance of an end by `days`, as little was drawn in the silence or much."""
    least = days - SHUT_SHARE * silent_days
    most = days + BUSY_SHARE * silent_days
    return (
        chance_of_end_by(ahead.p05, ahead.p50, ahead.p95, least),
        chance_of_end_by(ahead.p05, ahead.p50, ahead.p95, most),
    )


def chance_of_any(chances: Iterable[float]) -> float:
    """Chance that at least one of several ends has come; 0 where there are none.

    As if they were independent. Ends that share the water drawn (capacity, carbon) come together
    rather than apart, so that this errs to the safe side, by less than the smaller of the two.
    """
    return 1.0 - math.prod(1.0 - chance for chance in chances)
