"""Water that cannot be, in clear words."""

from __future__ import annotations

from typing import Final

import numpy as np

from analytics.chemistry.carbonate import HIGHEST_PH, LOWEST_PH
from analytics.chemistry.water import (
    FIELDS,
    Water,
    anions_meq_l,
    cations_meq_l,
    charge_surplus_meq_l,
)
from analytics.errors import ModelError
from analytics.samples import Floats

NAMES: Final = {
    "ca_mmol_l": "calcium",
    "mg_mmol_l": "magnesium",
    "na_mmol_l": "sodium",
    "k_mmol_l": "potassium",
    "cl_mmol_l": "chloride",
    "so4_mmol_l": "sulphate",
    "no3_mmol_l": "nitrate",
    "alkalinity_meq_l": "alkalinity",
    "dic_mmol_l": "inorganic carbon",
}
ROUNDING_MEQ_L: Final = 0.05
"""Charges may miss each other by so much before anything is said."""
TOLERATED_SHARE: Final = 0.10
"""Of all charges; Standard Methods 1030 E asks for 2-10 % by strength."""
STRONGEST_MEQ_L: Final = 100.0
"""Beyond this the ion model ends; drinking water ends at about 25."""


def faults(source: Water, ph: float | Floats | None = None) -> tuple[str, ...]:
    """What is impossible about a water or a batch of waters; empty if nothing is.

    `ph` may be given to be judged with it.
    """
    said = [*_unreal(source)]
    if not said:
        said += _unbalanced(source)
    if ph is not None:
        said += _sour_or_caustic(np.asarray(ph, dtype=np.float64))
    return tuple(said)


def require_possible(source: Water, ph: float | Floats | None = None) -> None:
    """Raises ModelError that lists the faults, if there are any."""
    found = faults(source, ph)
    if found:
        raise ModelError("; ".join(found), "Check the tests of this water and enter them again.")


def _unreal(source: Water) -> list[str]:
    said = []
    for field in FIELDS:
        values = getattr(source, field)
        if not np.all(np.isfinite(values)):
            said.append(f"{NAMES[field]} is not a number")
        elif np.any(values < 0):
            said.append(f"{NAMES[field]} is negative ({float(np.min(values)):g} {_unit(field)})")
    return said


def _unit(field: str) -> str:
    return "meq/L" if field.endswith("meq_l") else "mmol/L"


def _unbalanced(source: Water) -> list[str]:
    cations, anions = cations_meq_l(source), anions_meq_l(source)
    said = []
    if np.any((source.alkalinity_meq_l > ROUNDING_MEQ_L) & (cations < ROUNDING_MEQ_L)):
        said.append(
            "there is alkalinity but no calcium, magnesium, sodium or potassium to go with it"
        )
    else:
        surplus = charge_surplus_meq_l(source)
        off = np.abs(surplus) > np.maximum(ROUNDING_MEQ_L, TOLERATED_SHARE * (cations + anions) / 2)
        if np.any(off):
            worst = float(surplus.ravel()[np.argmax(np.abs(surplus).ravel())])
            more, less = ("cations", "anions") if worst > 0 else ("anions", "cations")
            said.append(f"{more} exceed {less} by {abs(worst):.2f} meq/L")
    if np.any(cations > STRONGEST_MEQ_L):
        said.append(f"more than {STRONGEST_MEQ_L:g} meq/L of cations: brine, not drinking water")
    return said


def _sour_or_caustic(ph: Floats) -> list[str]:
    bad = ~((ph >= LOWEST_PH) & (ph <= HIGHEST_PH))
    if not np.any(bad):
        return []
    worst = float(ph[bad].ravel()[0])
    return [f"pH {worst:g} lies outside {LOWEST_PH:g} to {HIGHEST_PH:g}"]
