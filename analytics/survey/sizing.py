"""How many litres a cartridge gives, how long it lasts, and how large it must be.

    litres = capacity / (removed at the bed * (1 - bypass))

where removed at the bed is raw less treated (not raw less blended) of the capacity's own kind.
"""

from __future__ import annotations

import msgspec
import numpy as np

from analytics.samples import Floats, Spread
from analytics.setup import CapacityKind
from analytics.survey.site import LONGEST_MONTHS, Site
from analytics.survey.spreads import spread_of

LEAST_REMOVED_MMOL_L = 1e-3


class Size(msgspec.Struct, frozen=True, kw_only=True):
    """The cartridge. `needed_mmol` lasts the months wished for; `litres` and `months` are what the
    cartridge at hand gives, by capacity alone. None: not asked for, or no daily use known.

    `changed_after_months` is the earlier of capacity and hygiene.
    """

    kind: CapacityKind
    removed_mmol_l: Spread
    litres_a_month: float | None = None
    needed_mmol: Spread | None = None
    wished_months: float = 6.0
    capacity_mmol: float | None = None
    litres: Spread | None = None
    months: Spread | None = None
    changed_after_months: float | None = None


def litres_from(
    capacity_mmol: float | Floats, removed_mmol_l: float | Floats, bypass: float | Floats
) -> Floats:
    """Litres through the head to the end of capacity."""
    taken = np.maximum(removed_mmol_l, LEAST_REMOVED_MMOL_L) * (1.0 - np.asarray(bypass))
    return np.asarray(capacity_mmol / np.maximum(taken, LEAST_REMOVED_MMOL_L))


def capacity_for(
    litres: float | Floats, removed_mmol_l: float | Floats, bypass: float | Floats
) -> Floats:
    """Capacity, mmol, that so many litres through the head take up."""
    return np.asarray(litres * np.asarray(removed_mmol_l) * (1.0 - np.asarray(bypass)))


def sized(
    removed_mmol_l: Floats,
    kind: CapacityKind,
    bypass: float,
    site: Site,
    rng: np.random.Generator,
) -> Size:
    """The cartridge for this site, over plausible waters."""
    size = Size(
        kind=kind,
        removed_mmol_l=spread_of(removed_mmol_l),
        wished_months=site.months,
        capacity_mmol=site.capacity_mmol,
    )
    a_month = None
    if site.litres_a_day is not None:
        a_month = site.litres_a_day * site.open_days_a_month
        whole = capacity_for(a_month * min(site.months, LONGEST_MONTHS), removed_mmol_l, bypass)
        size = msgspec.structs.replace(size, litres_a_month=a_month, needed_mmol=spread_of(whole))
    if site.capacity_mmol is None:
        return size
    held = site.capacity_mmol * np.exp(
        site.capacity_relative_sd * rng.standard_normal(np.shape(removed_mmol_l))
    )
    litres = litres_from(held, removed_mmol_l, bypass)
    size = msgspec.structs.replace(size, litres=spread_of(litres))
    if a_month is None:
        return size
    months = litres / a_month
    return msgspec.structs.replace(
        size,
        months=spread_of(months),
        changed_after_months=float(min(np.median(months), LONGEST_MONTHS)),
    )
