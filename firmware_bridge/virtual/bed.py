"""What leaves the head after so many litres: the simulator's own bed, and the door for another.

This is a plain S-curve, made to look like a cartridge. It is no model of exchange and nothing that
estimates may lean on it.
"""

from __future__ import annotations

from math import exp, log
from typing import Protocol

import msgspec


class BedWater(msgspec.Struct, frozen=True):
    """Blended water behind the head while raw water is as it usually is."""

    ec25_us_cm: float
    hardness_mmol_l: float


class VirtualBed(Protocol):
    """Any bed: litres through the head since it was fitted, to the blended water that leaves."""

    def __call__(self, litres: float) -> BedWater: ...


class SCurveBed(msgspec.Struct, frozen=True, kw_only=True):
    """A logistic curve from fresh to raw water; at `life_l` a fifth of what was removed is back.

    `bypass` is the share that goes round the bed; `front` the width of the curve as a share of
    `life_l`. Figures of a carbonate-hardness exchanger on a hard town water.
    """

    life_l: float = 4000.0
    bypass: float = 0.3
    front: float = 0.04
    raw_ec25_us_cm: float = 720.0
    fresh_ec25_us_cm: float = 350.0
    raw_hardness_mmol_l: float = 2.85
    fresh_hardness_mmol_l: float = 0.05

    def back(self, litres: float) -> float:
        """Share of what the fresh bed removed that has come back."""
        place = (litres / self.life_l - 1.0) / self.front - log(4.0)
        return 1.0 / (1.0 + exp(-min(max(place, -60.0), 60.0)))

    def __call__(self, litres: float) -> BedWater:
        through = self.bypass + (1.0 - self.bypass) * self.back(litres)
        return BedWater(
            self.fresh_ec25_us_cm + through * (self.raw_ec25_us_cm - self.fresh_ec25_us_cm),
            self.fresh_hardness_mmol_l
            + through * (self.raw_hardness_mmol_l - self.fresh_hardness_mmol_l),
        )
