"""The water the machine gets, made up from what is known: hardness, alkalinity, calcium, and what
the brew boiler makes of it. Held against the site's brew-water profile by the alarms.

The raw water's make-up is that of its last full test or report, scaled with the raw hardness the
estimate tracks; the bed takes out what the estimate says, of the kind its medium works on.
"""

from __future__ import annotations

import math
from functools import lru_cache
from typing import Final

import msgspec
import numpy as np

from analytics.chemistry.saturation import BREW_BOILER, si
from analytics.chemistry.speciation import speciate
from analytics.chemistry.water import Water, balanced, water
from analytics.errors import ModelError
from analytics.samples import AnyEvent, DropTest, Estimate, Point, UtilityReport
from analytics.survey.window import WINDOWS, Window

CALCIUM_SHARE: Final = 0.8
"""Calcium of total hardness where it was not tested (common practice, no source)."""
TRACE_MMOL_L: Final = 1e-4
TAP_CARBON: Final = 1.06
"""Inorganic carbon of tap water over its alkalinity: near pH 7.5 (common practice, no source)."""
MOST_SCALED: Final = 3.0
"""The make-up of a test is not stretched further than this."""


class RawTest(msgspec.Struct, frozen=True, kw_only=True):
    """Raw water as last tested as a whole: total hardness, alkalinity, calcium if it was tested."""

    hardness_mmol_l: float
    alkalinity_meq_l: float
    calcium_mmol_l: float | None = None


class MachineWater(msgspec.Struct, frozen=True, kw_only=True):
    """What the machine gets. `si` is calcite's saturation index in the brew boiler (95 C)."""

    hardness_mmol_l: float
    alkalinity_meq_l: float
    calcium_mmol_l: float
    ph: float
    si: float


def raw_test(known: RawTest | None, fact: AnyEvent) -> RawTest | None:
    """What is known of raw water's make-up after a fact; a test that lacks a figure keeps it."""
    if isinstance(fact, DropTest) and fact.point is not Point.RAW:
        return known
    if not isinstance(fact, DropTest | UtilityReport):
        return known
    hardness, alkalinity = fact.hardness_mmol_l, fact.alkalinity_meq_l
    if hardness is None:
        hardness = known.hardness_mmol_l if known else None
    if alkalinity is None:
        alkalinity = known.alkalinity_meq_l if known else None
    if hardness is None or alkalinity is None or hardness <= 0.0 or alkalinity <= 0.0:
        return known
    return RawTest(
        hardness_mmol_l=hardness, alkalinity_meq_l=alkalinity, calcium_mmol_l=fact.calcium_mmol_l
    )


def profile(name: str) -> Window | None:
    """The brew-water profile of this name; None where none is named."""
    return WINDOWS.get(name)


def machine_water(
    medium: str, known: RawTest | None, estimate: Estimate | None
) -> MachineWater | None:
    """What the machine gets, by the estimate's medians; None where too little is known."""
    made = _made(medium, known, estimate)
    return None if made is None else _heated(*made)


@lru_cache(maxsize=64)
def _heated(
    hardness: float, alkalinity: float, calcium: float, carbon: float
) -> MachineWater | None:
    """What a brew boiler makes of a water; speciation takes milliseconds, waters change seldom."""
    made = _water(hardness, alkalinity, calcium, carbon)
    try:
        found, hot = speciate(made, 25.0), si(made, BREW_BOILER.temp_c)
    except ModelError:  # a make-up no water has: the tests do not fit each other
        return None
    return MachineWater(
        hardness_mmol_l=float(made.ca_mmol_l + made.mg_mmol_l),
        alkalinity_meq_l=float(made.alkalinity_meq_l),
        calcium_mmol_l=float(made.ca_mmol_l),
        ph=float(found.ph),
        si=float(hot),
    )


Made = tuple[float, float, float, float]
"""Hardness, alkalinity, calcium and inorganic carbon, to the hundredth."""


def _made(medium: str, known: RawTest | None, estimate: Estimate | None) -> Made | None:
    if known is None or estimate is None or estimate.raw_mmol_l is None:
        return None
    if estimate.outlet_mmol_l is None:
        return None
    calcium = known.calcium_mmol_l
    calcium = CALCIUM_SHARE * known.hardness_mmol_l if calcium is None else calcium
    calcium = min(calcium, known.hardness_mmol_l)
    counted = _of_kind(estimate.target, known, calcium)
    if counted <= 0.0 or not math.isfinite(estimate.raw_mmol_l.p50):
        return None
    scale = min(max(estimate.raw_mmol_l.p50 / counted, 1.0 / MOST_SCALED), MOST_SCALED)
    hardness, alkalinity = known.hardness_mmol_l * scale, known.alkalinity_meq_l * scale
    gone = max(estimate.raw_mmol_l.p50 - estimate.outlet_mmol_l.p50, 0.0)
    return _behind(medium, hardness, alkalinity, calcium * scale, gone)


def _of_kind(target: str, known: RawTest, calcium: float) -> float:
    if target == "calcium":
        return calcium
    if target == "carbonate":
        return min(known.hardness_mmol_l, known.alkalinity_meq_l / 2)
    return known.hardness_mmol_l


def _behind(medium: str, hardness: float, alkalinity: float, calcium: float, gone: float) -> Made:
    """Raw water less what the bed and the bypass together leave out of it."""
    carbon = TAP_CARBON * alkalinity
    share = calcium / hardness
    if medium == "magnesium":
        return _rounded(hardness, alkalinity, calcium - gone, carbon)
    if medium == "membrane":
        left = 1.0 - min(gone / hardness, 1.0)
        return _rounded(hardness * left, alkalinity * left, calcium * left, carbon)
    if medium in ("hydrogen", "mixed"):
        alkalinity = alkalinity - 2.0 * gone
    return _rounded(hardness - gone, alkalinity, (hardness - gone) * share, carbon)


def _rounded(*figures: float) -> Made:
    hardness, alkalinity, calcium, carbon = (round(max(figure, 0.0), 2) for figure in figures)
    return hardness, alkalinity, calcium, carbon


def _water(hardness: float, alkalinity: float, calcium: float, carbon: float) -> Water:
    ca = max(calcium, TRACE_MMOL_L)
    mg = max(hardness - ca, 0.0)
    alkalinity = max(alkalinity, TRACE_MMOL_L)
    made = water(ca=np.float64(ca), mg=np.float64(mg), alkalinity=alkalinity, dic=carbon)
    return balanced(made)
