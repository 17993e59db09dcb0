"""Figures that no water has, named with the mend."""

from __future__ import annotations

from typing import Final

import numpy as np

from analytics.chemistry.carbonate import HIGHEST_PH, LOWEST_PH
from analytics.errors import ModelError
from analytics.survey.given import NAMES, Given, Reading

BASIS: Final = ("hardness_mmol_l", "alkalinity_meq_l", "calcium_mmol_l", "ec25_us_cm")
"""At least one of these must be known for a survey to say anything."""
MOST: Final = {
    "hardness_mmol_l": (18.0, "100 dH", "mmol/L"),
    "alkalinity_meq_l": (20.0, "56 dH", "meq/L"),
    "calcium_mmol_l": (18.0, "720 mg/L", "mmol/L"),
    "magnesium_mmol_l": (12.0, "290 mg/L", "mmol/L"),
    "sodium_mmol_l": (45.0, "1000 mg/L", "mmol/L"),
    "chloride_mmol_l": (45.0, "1600 mg/L", "mmol/L"),
    "sulphate_mmol_l": (20.0, "1900 mg/L", "mmol/L"),
    "nitrate_mmol_l": (5.0, "310 mg/L", "mmol/L"),
    "ec25_us_cm": (6000.0, "6000 uS/cm", "uS/cm"),
}
"""Beyond any drinking water; above these a unit has slipped or the water is brine."""
LEAST_EC_US_CM: Final = 5.0


def require_possible(given: Given) -> None:
    """Raises ModelError that lists every figure that cannot be, or says that nothing is known."""
    faults = [fault for name, reading in given.known().items() for fault in _fault(name, reading)]
    if not faults:
        faults = _without_cations(given)
    if faults:
        raise ModelError("; ".join(faults), "Test again, or leave out what is not known.")
    if not any(name in given.known() for name in BASIS):
        raise ModelError(
            "Nothing is known that tells how hard the water is",
            "Give at least one of total hardness, alkalinity, calcium or conductivity.",
        )


def _fault(name: str, reading: Reading) -> list[str]:
    value, what, said = reading.value, NAMES[name], reading.said or f"{reading.value:g}"
    if not all(np.isfinite(v) for v in (value, reading.step, reading.sd)):
        return [f"{what} {said} is not a number"]
    if name == "ph":
        return [] if LOWEST_PH <= value <= HIGHEST_PH else [_ph_fault(said)]
    if value < 0 or reading.step < 0 or reading.sd < 0:
        return [f"{what} {said} is negative: there is no less than none"]
    if reading.step > value + 1e-9:
        return [f"{what} {said} is less than one drop"]
    if name == "ec25_us_cm" and value < LEAST_EC_US_CM:
        return [
            f"conductivity {said} is that of pure water or of a dry probe: tap water has at least "
            "20 uS/cm (is it mS/cm?)"
        ]
    most, words, _ = MOST[name]
    if value > most:
        return [f"{what} {said} is more than any drinking water has ({words}): is the unit right?"]
    return []


def _ph_fault(said: str) -> str:
    return f"pH {said} cannot be: tap water lies between {LOWEST_PH:g} and {HIGHEST_PH:g}"


def _without_cations(given: Given) -> list[str]:
    """Alkalinity where every cation was tested and found to be nothing."""
    alkalinity, hardness, sodium = (
        given.alkalinity_meq_l,
        given.hardness_mmol_l,
        given.sodium_mmol_l,
    )
    if alkalinity is None or hardness is None or sodium is None:
        return []
    if alkalinity.low > 0.1 and hardness.high == 0 and sodium.high == 0:
        return [
            "there is alkalinity but no hardness and no sodium to go with it: such water cannot be"
        ]
    return []
