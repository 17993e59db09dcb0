"""The bed of a virtual cartridge, from the same exchange column the estimate reasons with."""

from __future__ import annotations

import numpy as np

from analytics.chemistry.water import Water
from analytics.column.curves import GRID
from analytics.exchange_medium import ExchangeMedium
from analytics.media import media
from analytics.samples import Floats
from firmware_bridge.virtual.bed import BedWater


class ColumnBed:
    """Blended water behind a cartridge whose capacity ends after `life_l` litres through the head.

    Raises ValueError for a medium that does not exchange ions.
    """

    def __init__(self, medium: str, raw: Water, *, bypass: float, life_l: float) -> None:
        found = media()[medium]
        if not isinstance(found, ExchangeMedium):
            raise ValueError(f"{medium} does not exchange ions")
        curves = found.curves(raw, bypass=bypass)
        self.life_l = life_l
        self.raw_ec25_us_cm = float(curves.raw_ec25_us_cm[0])
        treated, bend = curves.ec25_us_cm[0], curves.bend_us_cm[0]
        through = 1.0 - bypass
        self._ec25: Floats = (
            bypass * self.raw_ec25_us_cm + through * treated + bypass * through * bend
        )
        kind = float(curves.raw_kind_meq[0]) / 2.0
        self._hardness: Floats = kind * (bypass + through * curves.share[0])
        self._alkalinity: Floats = (
            bypass * float(np.ravel(raw.alkalinity_meq_l)[0]) + through * curves.alkalinity[0]
        )

    def __call__(self, litres: float) -> BedWater:
        """Blended water after so many litres."""
        life = litres / self.life_l
        return BedWater(
            float(np.interp(life, GRID, self._ec25)), float(np.interp(life, GRID, self._hardness))
        )

    def alkalinity_meq_l(self, litres: float) -> float:
        """Alkalinity of the blended water after so many litres: what a drop test would titrate."""
        return float(np.interp(litres / self.life_l, GRID, self._alkalinity))
