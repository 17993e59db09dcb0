"""The bed of one line: its medium's curves, drawn for the water the line has."""

from __future__ import annotations

from functools import lru_cache
from typing import Final

import msgspec
import numpy as np

from analytics.chemistry.conductivity import ec25_us_cm
from analytics.chemistry.water import Water, water
from analytics.column.family import CurveFamily
from analytics.exchange_medium import ExchangeMedium
from analytics.media import media
from analytics.samples import Floats

MOVED: Final = 0.2
"""A family is drawn anew when the raw water is further than this (in logarithms) from its own."""
CHLORIDE_SHARE: Final = 0.6
"""Share of chloride among strong anions where only their sum is known (the rest is sulphate)."""


class Stand(msgspec.Struct, frozen=True, kw_only=True):
    """The raw water a family of curves is drawn for, rounded so that families can be kept."""

    hardness_mmol_l: float
    alkalinity_meq_l: float
    calcium_share: float
    ec25_us_cm: float

    @staticmethod
    def near(hardness: float, alkalinity: float, calcium_share: float, ec25: float) -> Stand:
        """The rounded water nearest to these figures."""
        return Stand(
            hardness_mmol_l=round(max(hardness, 0.2), 1),
            alkalinity_meq_l=round(5.0 * max(alkalinity, 0.2)) / 5.0,
            calcium_share=round(50.0 * min(max(calcium_share, 0.3), 0.98)) / 50.0,
            ec25_us_cm=round(max(ec25, 40.0) / 20.0) * 20.0,
        )

    def far_from(self, other: Stand) -> bool:
        """Whether curves drawn for the other water no longer serve this one."""
        pairs = zip(msgspec.structs.astuple(self), msgspec.structs.astuple(other), strict=True)
        return any(abs(np.log(a / b)) > MOVED for a, b in pairs)


def exchanges(medium: str) -> bool:
    """Whether this medium swaps ions, so that its bed has curves."""
    return isinstance(media().get(medium), ExchangeMedium)


@lru_cache(maxsize=16)
def sees_little(medium: str) -> bool:
    """Whether conductivity hardly tells this medium's end: one cation for another, no acid.

    A fifth of what such a bed takes coming back moves EC25 by 0.6-1.1 % of raw (PHREEQC 3.8.6,
    phreeqc.dat, 14 raw waters), below what two probes can tell.
    """
    found = media().get(medium)
    return isinstance(found, ExchangeMedium) and found.shape_priors.middle.log_k_h is None


@lru_cache(maxsize=16)
def shape_weights(medium: str) -> Floats:
    """Prior weights of the shapes of this medium's bed, in the order of its families."""
    found = media().get(medium)
    if not isinstance(found, ExchangeMedium):
        return np.ones(1)
    priors = found.shape_priors
    weights = np.outer([w for _, w in priors.spreads()], [w for _, w in priors.variants]).ravel()
    return np.asarray(weights / weights.sum())


@lru_cache(maxsize=16)
def family_of(medium: str, stand: Stand, end_share: float) -> CurveFamily:
    """Curves of this medium's bed in this water; made once for each.

    Raises ValueError for a medium that does not exchange ions.
    """
    found = media().get(medium)
    if not isinstance(found, ExchangeMedium):
        raise ValueError(f"{medium} does not exchange ions")
    return found.family(water_of(stand), end_share=end_share)


def water_of(stand: Stand) -> Water:
    """A whole water behind four figures: sodium with strong anions makes up the conductivity.

    Where conductivity is lower than hardness and alkalinity alone would give, it is left aside.
    """
    low, high = 0.0, 30.0
    if float(ec25_us_cm(_with_salt(stand, low))) >= stand.ec25_us_cm:
        return _with_salt(stand, low)
    for _ in range(24):
        middle = 0.5 * (low + high)
        if float(ec25_us_cm(_with_salt(stand, middle))) < stand.ec25_us_cm:
            low = middle
        else:
            high = middle
    return _with_salt(stand, low)


def _with_salt(stand: Stand, salt_mmol_l: float) -> Water:
    """Hardness and alkalinity as given, and this much sodium salt beyond what charges ask for."""
    hardness, alkalinity = stand.hardness_mmol_l, stand.alkalinity_meq_l
    sodium = max(alkalinity - 2.0 * hardness, 0.0) + 0.15 + salt_mmol_l
    strong = 2.0 * hardness + sodium - alkalinity
    return water(
        ca=hardness * stand.calcium_share,
        mg=hardness * (1.0 - stand.calcium_share),
        na=sodium,
        k=0.05,
        cl=CHLORIDE_SHARE * strong + 0.05,
        so4=0.5 * (1.0 - CHLORIDE_SHARE) * strong,
        alkalinity=alkalinity,
        dic=1.08 * alkalinity,
    )
