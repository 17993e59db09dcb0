"""Tests of one water that contradict each other: which is likely wrong, what to go on with.

A survey does not stop here. It goes on with each of the tests forgotten in turn, the likely wrong
one more often, so that the answer widens to hold both.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

import msgspec
import numpy as np

from analytics.chemistry.carbonate import co2_mmol_l, with_ph
from analytics.chemistry.masses import CACO3, CO2
from analytics.chemistry.saturation import si
from analytics.chemistry.water import water
from analytics.survey.given import Given, Reading
from analytics.survey.least import least_ec25_us_cm
from analytics.survey.possible import BASIS
from analytics.survey.words import Reason, reason

LIKELY: Final = 0.8
"""Share of the answer that goes on without the test that is likely wrong (judgement)."""
MODEL_ROOM: Final = 0.88
"""Conductivity may fall short of the least by so much before it is said to contradict."""
OTHER_IONS_MEQ_L: Final = 0.4
"""Potassium and rounding, when cations are counted against alkalinity."""
MOST_SI: Final = 1.3
"""No main holds water this far above calcite saturation for long (common practice)."""
MOST_CO2_MMOL_L: Final = 3.0
"""More free carbon dioxide than mains water carries (common practice)."""


class Doubt(msgspec.Struct, frozen=True, kw_only=True):
    """Tests that cannot all be right. `likely` names the field that is likely wrong; `odds` how
    surely. `between` are the fields concerned. `says` tells what clashes and why; `mends` are codes
    of what to do. `code` stays the same for ever."""

    code: str
    between: tuple[str, ...]
    likely: str
    odds: float
    says: Reason
    mends: tuple[str, ...]


def doubts(given: Given) -> tuple[Doubt, ...]:
    """Every contradiction among the tests."""
    return tuple(found for look in _LOOKS if (found := look(given)) is not None)


def courses(given: Given) -> tuple[tuple[float, Given], ...]:
    """What to go on with, and how much weight each course has; one course where nothing clashes."""
    return tuple(_resolved(given, 1.0))


def _resolved(given: Given, weight: float) -> list[tuple[float, Given]]:
    found = doubts(given)
    if not found:
        return [(weight, given)]
    first = found[0]
    spare = [name for name in first.between if _tells_hardness(given.without(name))]
    if not spare:
        return [(weight, given)]
    rest = (1 - first.odds) / max(len(spare) - (first.likely in spare), 1)
    odds = [first.odds if name == first.likely else rest for name in spare]
    out: list[tuple[float, Given]] = []
    for name, share in sorted(zip(spare, odds, strict=True), key=lambda pair: -pair[1]):
        out += _resolved(given.without(name), weight * share / sum(odds))
    return out


def _tells_hardness(given: Given) -> bool:
    """Whether enough is left to go on with."""
    return any(name in given.known() for name in BASIS)


def _calcium_above_hardness(given: Given) -> Doubt | None:
    calcium, hardness = given.calcium_mmol_l, given.hardness_mmol_l
    if calcium is None or hardness is None or calcium.low <= hardness.high:
        return None
    clash = "calcium-above-hardness"
    values = {"calcium_mmol_l": calcium.middle, "hardness_mmol_l": hardness.middle}
    between = ("calcium_mmol_l", "hardness_mmol_l")
    slipped = calcium.middle * 40.078 / CACO3
    if slipped <= hardness.high and calcium.how is not hardness.how:
        says = reason(clash, "unit", values, slipped_mmol_l=slipped)
        return _made(says, between, 0, LIKELY, "unit")
    if _low_for_the_rest(hardness, given):
        return _made(reason(clash, "hardness", values), between, 1, LIKELY, "drops")
    return _made(reason(clash, "calcium", values), between, 0, 0.6, "again")


def _low_for_the_rest(hardness: Reading, given: Given) -> bool:
    """Whether alkalinity and conductivity both call for more hardness than was found."""
    alkalinity, ec = given.alkalinity_meq_l, given.ec25_us_cm
    if alkalinity is None or ec is None:
        return False
    return alkalinity.low > 2 * hardness.high and 2 * hardness.high < 0.5 * ec.low / 95.0


def _parts_above_hardness(given: Given) -> Doubt | None:
    calcium, magnesium, hardness = (
        given.calcium_mmol_l,
        given.magnesium_mmol_l,
        given.hardness_mmol_l,
    )
    if calcium is None or magnesium is None or hardness is None:
        return None
    if calcium.low > hardness.high:
        return None
    low, high = calcium.low + magnesium.low, calcium.high + magnesium.high
    if low <= hardness.high and high >= hardness.low:
        return None
    says = reason(
        "parts-not-hardness",
        both_mmol_l=calcium.middle + magnesium.middle,
        whole_mmol_l=hardness.middle,
    )
    between = ("hardness_mmol_l", "calcium_mmol_l", "magnesium_mmol_l")
    return _made(says, between, 0, 0.6, "drops")


def _conductivity_too_low(given: Given) -> Doubt | None:
    ec = given.ec25_us_cm
    known = {name: r for name in _IONS if (r := getattr(given, name)) is not None}
    if ec is None or not known:
        return None
    least = least_ec25_us_cm(**{name: reading.low for name, reading in known.items()})
    if ec.high >= MODEL_ROOM * least:
        return None
    guilty = [
        name
        for name, reading in known.items()
        if ec.high < MODEL_ROOM * least_ec25_us_cm(**{name: reading.low})
    ]
    clash, names = "conductivity-too-low", {"known": tuple(known)}
    values = {"found_us_cm": ec.middle, "least_us_cm": least}
    between = ("ec25_us_cm", *known)
    if len(guilty) == 1 and len(known) > 1:
        at = between.index(guilty[0])
        names |= {"others": tuple(n for n in known if n != guilty[0]), "wrong": (guilty[0],)}
        says = reason(clash, "test", values, names=names)
        return _made(says, between, at, LIKELY, "kit")
    if len(known) > 1:
        says = reason(clash, "conductivity", values, names=names)
        return _made(says, between, 0, LIKELY, "probe")
    says = reason(clash, "either", values, names=names)
    return _made(says, between, 0, 0.6, "probe", "alkalinity")


_IONS = ("hardness_mmol_l", "alkalinity_meq_l", "chloride_mmol_l")


def _too_few_cations(given: Given) -> Doubt | None:
    hardness, alkalinity, sodium = (
        given.hardness_mmol_l,
        given.alkalinity_meq_l,
        given.sodium_mmol_l,
    )
    if hardness is None or alkalinity is None or sodium is None:
        return None
    chloride = given.chloride_mmol_l.low if given.chloride_mmol_l else 0.0
    cations = 2 * hardness.high + sodium.high + OTHER_IONS_MEQ_L
    anions = alkalinity.low + max(chloride, 0.0)
    if anions <= cations:
        return None
    values = {"anions_amount_meq_l": anions, "cations_amount_meq_l": cations}
    between = ("alkalinity_meq_l", "hardness_mmol_l", "sodium_mmol_l")
    ec = given.ec25_us_cm
    if ec is not None and ec.low > least_ec25_us_cm(alkalinity_meq_l=alkalinity.low) * 0.95:
        return _made(reason("too-few-cations", "hardness", values), between, 1, 0.6, "drops")
    return _made(reason("too-few-cations", "alkalinity", values), between, 0, 0.6, "kit")


def _ph_out_of_place(given: Given) -> Doubt | None:
    hardness, alkalinity, ph = given.hardness_mmol_l, given.alkalinity_meq_l, given.ph
    if hardness is None or alkalinity is None or ph is None:
        return None
    if min(hardness.middle, alkalinity.middle) <= 0.02:
        return None
    ca = 0.8 * hardness.middle
    plain = water(ca=ca, mg=hardness.middle - ca, alkalinity=alkalinity.middle)
    ends = [with_ph(plain, _feasible(v, alkalinity.middle)) for v in (ph.low, ph.high)]
    index = float(si(ends[0]))
    co2 = float(co2_mmol_l(ends[1]))
    between = ("ph", "alkalinity_meq_l")
    if index > MOST_SI:
        says = reason("ph-too-high", found_ph=ph.value, index_si=index)
        return _made(says, between, 0, LIKELY, "ph")
    if co2 > MOST_CO2_MMOL_L:
        says = reason("ph-too-low", found_ph=ph.value, co2_mg_l=co2 * CO2)
        return _made(says, between, 0, LIKELY, "ph")
    return None


def _feasible(ph: float, alkalinity_meq_l: float) -> float:
    """pH that so much alkalinity can have at all."""
    return float(np.clip(ph, 4.6, min(10.5, 10.4 + np.log10(max(alkalinity_meq_l, 1e-3)))))


def _made(says: Reason, between: tuple[str, ...], at: int, odds: float, *mends: str) -> Doubt:
    return Doubt(
        code=says.code, between=between, likely=between[at], odds=odds, says=says, mends=mends
    )


_LOOKS: Final[tuple[Callable[[Given], Doubt | None], ...]] = (
    _calcium_above_hardness,
    _parts_above_hardness,
    _conductivity_too_low,
    _too_few_cations,
    _ph_out_of_place,
)
