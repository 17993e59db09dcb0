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
from analytics.survey.given import NAMES, Given, Reading
from analytics.survey.least import least_ec25_us_cm
from analytics.survey.possible import BASIS
from analytics.survey.words import DEGREES, Units

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
    surely. `between` are the fields concerned. `code` stays the same for ever."""

    code: str
    between: tuple[str, ...]
    likely: str
    odds: float
    text: str
    mend: str


def doubts(given: Given, units: Units = DEGREES) -> tuple[Doubt, ...]:
    """Every contradiction among the tests."""
    return tuple(found for look in _LOOKS if (found := look(given, units)) is not None)


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


def _calcium_above_hardness(given: Given, units: Units) -> Doubt | None:
    calcium, hardness = given.calcium_mmol_l, given.hardness_mmol_l
    if calcium is None or hardness is None or calcium.low <= hardness.high:
        return None
    text = (
        f"Calcium ({units.hard(calcium.middle)}) is above total hardness "
        f"({units.hard(hardness.middle)}), of which it is a part."
    )
    between = ("calcium_mmol_l", "hardness_mmol_l")
    slipped = calcium.middle * 40.078 / CACO3
    if slipped <= hardness.high and calcium.how is not hardness.how:
        why = (
            f" Read as mg/L of CaCO3 instead of calcium it would be {units.hard(slipped)} and fit: "
            "the calcium figure's unit is likely wrong."
        )
        return _made("calcium-above-hardness", between, 0, LIKELY, text + why, _UNIT_MEND)
    if _low_for_the_rest(hardness, given):
        why = " Conductivity and alkalinity side with calcium: the hardness test is likely wrong."
        return _made("calcium-above-hardness", between, 1, LIKELY, text + why, _DROPS_MEND)
    why = " A calcium test needs pH 12 and reads high without it: calcium is likelier wrong."
    return _made("calcium-above-hardness", between, 0, 0.6, text + why, _AGAIN_MEND)


_UNIT_MEND = 'Say what the milligrams are of: "40 mg/L" is calcium, "100 mg/L as CaCO3" hardness.'
_DROPS_MEND = "Test total hardness again and check how much one drop stands for."
_AGAIN_MEND = "Test both again, calcium with its alkaline buffer."


def _low_for_the_rest(hardness: Reading, given: Given) -> bool:
    """Whether alkalinity and conductivity both call for more hardness than was found."""
    alkalinity, ec = given.alkalinity_meq_l, given.ec25_us_cm
    if alkalinity is None or ec is None:
        return False
    return alkalinity.low > 2 * hardness.high and 2 * hardness.high < 0.5 * ec.low / 95.0


def _parts_above_hardness(given: Given, units: Units) -> Doubt | None:
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
    both, whole = units.hard(calcium.middle + magnesium.middle), units.hard(hardness.middle)
    text = (
        f"Calcium and magnesium together are {both}, total hardness is {whole}: they should be "
        "one. Two figures of one analysis outweigh a test: total hardness is likely wrong, or the "
        "water has changed."
    )
    between = ("hardness_mmol_l", "calcium_mmol_l", "magnesium_mmol_l")
    return _made("parts-not-hardness", between, 0, 0.6, text, _DROPS_MEND)


def _conductivity_too_low(given: Given, _: Units) -> Doubt | None:
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
    words = " and ".join(NAMES[name] for name in known)
    text = (
        f"{ec.middle:.0f} uS/cm is too little for this {words}: these ions alone conduct at least "
        f"{least:.0f} uS/cm at 25 C."
    )
    between = ("ec25_us_cm", *known)
    if len(guilty) == 1 and len(known) > 1:
        at = between.index(guilty[0])
        others = " and ".join(NAMES[n] for n in known if n != guilty[0])
        why = (
            f" Conductivity agrees with {others}: {NAMES[guilty[0]]} is likely wrong (another "
            "drop size, or another water)."
        )
        return _made("conductivity-too-low", between, at, LIKELY, text + why, _KIT_MEND)
    if len(known) > 1:
        why = f" {words.capitalize()} agree with each other: conductivity is likely wrong."
        return _made("conductivity-too-low", between, 0, LIKELY, text + why, _PROBE_MEND)
    why = " One of the two is wrong; a conductivity reading goes astray more easily than drops."
    mend = f"{_PROBE_MEND} A test of alkalinity tells which is right."
    return _made("conductivity-too-low", between, 0, 0.6, text + why, mend)


_IONS = ("hardness_mmol_l", "alkalinity_meq_l", "chloride_mmol_l")
_KIT_MEND = "Test it again and check how much one drop stands for."
_PROBE_MEND = (
    "Check the meter in a standard (1413 uS/cm), its unit (mS/cm?) and whether it refers to 25 C: "
    "without that it reads 30 % low at 10 C."
)


def _too_few_cations(given: Given, _: Units) -> Doubt | None:
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
    text = (
        f"Alkalinity and chloride come to {anions:.1f} meq/L, but hardness and sodium to at most "
        f"{cations:.1f}: there are not enough cations to go with them."
    )
    between = ("alkalinity_meq_l", "hardness_mmol_l", "sodium_mmol_l")
    ec = given.ec25_us_cm
    if ec is not None and ec.low > least_ec25_us_cm(alkalinity_meq_l=alkalinity.low) * 0.95:
        why = " Conductivity agrees with the alkalinity: the hardness test is likely wrong."
        return _made("too-few-cations", between, 1, 0.6, text + why, _DROPS_MEND)
    why = " Two tests stand against one: alkalinity is likely wrong."
    return _made("too-few-cations", between, 0, 0.6, text + why, _KIT_MEND)


def _ph_out_of_place(given: Given, _: Units) -> Doubt | None:
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
        text = (
            f"At pH {ph.value:g} this hardness and alkalinity would drop lime in the main "
            f"(saturation index {index:+.1f}). pH is likely wrong: a sample that stood loses CO2 "
            "and rises."
        )
        return _made("ph-too-high", between, 0, LIKELY, text, _PH_MEND)
    if co2 > MOST_CO2_MMOL_L:
        text = (
            f"At pH {ph.value:g} this alkalinity goes with {co2 * CO2:.0f} mg/L of free carbon "
            "dioxide, more than a main carries. pH is likely wrong."
        )
        return _made("ph-too-low", between, 0, LIKELY, text, _PH_MEND)
    return None


_PH_MEND = "Measure pH at once at the tap, with a meter set in two buffers."


def _feasible(ph: float, alkalinity_meq_l: float) -> float:
    """pH that so much alkalinity can have at all."""
    return float(np.clip(ph, 4.6, min(10.5, 10.4 + np.log10(max(alkalinity_meq_l, 1e-3)))))


def _made(code: str, between: tuple[str, ...], at: int, odds: float, text: str, mend: str) -> Doubt:
    return Doubt(code=code, between=between, likely=between[at], odds=odds, text=text, mend=mend)


_LOOKS: Final[tuple[Callable[[Given, Units], Doubt | None], ...]] = (
    _calcium_above_hardness,
    _parts_above_hardness,
    _conductivity_too_low,
    _too_few_cations,
    _ph_out_of_place,
)
