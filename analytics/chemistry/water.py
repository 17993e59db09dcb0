"""A water as its ions: the one form that chemistry, media and survey hand to each other.

Columns are numpy arrays that broadcast against each other, so one `Water` may be a single sample,
a whole column of cells or 100 000 candidate waters. Amounts are per litre at 25 C.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final, TypeAlias

import msgspec
import numpy as np
from numpy.typing import ArrayLike

from analytics.chemistry.masses import ION_MASSES
from analytics.samples import Floats

IONS: Final = ("ca", "mg", "na", "k", "cl", "so4", "no3")
"""Order of the strong ions wherever they are stacked into one array."""
CHARGES: Final = {"ca": 2, "mg": 2, "na": 1, "k": 1, "cl": -1, "so4": -2, "no3": -1}
FIELDS: Final = (*(f"{ion}_mmol_l" for ion in IONS), "alkalinity_meq_l", "dic_mmol_l")
"""Order of the rows of `stacked`: the strong ions, then alkalinity, then inorganic carbon."""

WATER_KG_PER_L: Final = 0.99705
"""Pure water at 25 C (Kell, J. Chem. Eng. Data 20 (1975) 97); dissolved matter is left out."""

Numbers: TypeAlias = ArrayLike


class Water(msgspec.Struct, frozen=True, kw_only=True, eq=False):
    """Amounts dissolved in one or many waters.

    `alkalinity_meq_l` is what a titration with acid finds; with it the charges close:
    2 Ca + 2 Mg + Na + K = Cl + 2 SO4 + NO3 + alkalinity. `dic_mmol_l` is all inorganic carbon
    (CO2, bicarbonate, carbonate and their ion pairs). pH follows from the two.
    """

    ca_mmol_l: Floats
    mg_mmol_l: Floats
    na_mmol_l: Floats
    k_mmol_l: Floats
    cl_mmol_l: Floats
    so4_mmol_l: Floats
    no3_mmol_l: Floats
    alkalinity_meq_l: Floats
    dic_mmol_l: Floats

    @property
    def shape(self) -> tuple[int, ...]:
        """Shape the columns broadcast to; () is a single water."""
        return np.broadcast_shapes(*(getattr(self, name).shape for name in FIELDS))

    def at(self, place: int | slice | tuple[int | slice, ...]) -> Water:
        """The waters at these positions of the broadcast shape."""
        return Water(**{name: np.asarray(col[place]) for name, col in self._full().items()})

    def _full(self) -> dict[str, Floats]:
        shape = self.shape
        return {name: np.broadcast_to(getattr(self, name), shape) for name in FIELDS}


def water(
    *,
    ca: Numbers = 0.0,
    mg: Numbers = 0.0,
    na: Numbers = 0.0,
    k: Numbers = 0.0,
    cl: Numbers = 0.0,
    so4: Numbers = 0.0,
    no3: Numbers = 0.0,
    alkalinity: Numbers = 0.0,
    dic: Numbers | None = None,
) -> Water:
    """A water from plain numbers: ions and `dic` in mmol/L, `alkalinity` in meq/L.

    Without `dic` the inorganic carbon is taken as equal to alkalinity, a water near pH 8.3;
    `carbonate.with_ph` and `carbonate.with_co2` put a measured value in its place.
    """
    given = (ca, mg, na, k, cl, so4, no3, alkalinity, alkalinity if dic is None else dic)
    return Water(**{n: np.asarray(v, dtype=np.float64) for n, v in zip(FIELDS, given, strict=True)})


def from_mg_l(amounts: Mapping[str, float], dic_mmol_l: float | None = None) -> Water:
    """A water from mass concentrations, mg/L, by short ion name; `hco3` gives the alkalinity.

    >>> float(from_mg_l({"ca": 80.156, "hco3": 61.016}).ca_mmol_l)
    2.0
    """
    unknown = sorted(set(amounts) - set(ION_MASSES))
    if unknown:
        raise KeyError(f"no such ion: {', '.join(unknown)}; known are {', '.join(ION_MASSES)}")
    mmol = {ion: value / ION_MASSES[ion] for ion, value in amounts.items()}
    alkalinity = mmol.pop("hco3", 0.0)
    return water(**mmol, alkalinity=alkalinity, dic=dic_mmol_l)


def per_kg_water(**mmol_kgw: Numbers) -> Water:
    """A water from amounts per kilogram of water, as speciation programs state them."""
    return water(**{n: np.asarray(v, float) * WATER_KG_PER_L for n, v in mmol_kgw.items()})


def changed(source: Water, **columns: Numbers) -> Water:
    """The same water with some columns put in anew, by field name (`ca_mmol_l=...`)."""
    return msgspec.structs.replace(
        source, **{name: np.asarray(value, dtype=np.float64) for name, value in columns.items()}
    )


def stacked(source: Water) -> Floats:
    """All columns as one array: rows in the order of `FIELDS`, then the broadcast shape."""
    shape = source.shape
    return np.stack([np.broadcast_to(getattr(source, name), shape) for name in FIELDS])


def unstacked(rows: Floats) -> Water:
    """The water whose `stacked` form this is."""
    return Water(**{name: rows[i] for i, name in enumerate(FIELDS)})


def hardness_mmol_l(source: Water) -> Floats:
    """Total hardness: calcium and magnesium."""
    return source.ca_mmol_l + source.mg_mmol_l


def carbonate_hardness_mmol_l(source: Water) -> Floats:
    """The part of total hardness that alkalinity can bring down: min(hardness, alkalinity)."""
    return np.minimum(hardness_mmol_l(source), np.maximum(source.alkalinity_meq_l, 0.0) / 2)


def permanent_hardness_mmol_l(source: Water) -> Floats:
    """Hardness that stays when the alkalinity is used up."""
    return hardness_mmol_l(source) - carbonate_hardness_mmol_l(source)


def cations_meq_l(source: Water) -> Floats:
    """Equivalents of calcium, magnesium, sodium and potassium."""
    return 2 * hardness_mmol_l(source) + source.na_mmol_l + source.k_mmol_l


def anions_meq_l(source: Water) -> Floats:
    """Equivalents of chloride, sulphate, nitrate and alkalinity."""
    strong = source.cl_mmol_l + 2 * source.so4_mmol_l + source.no3_mmol_l
    return strong + source.alkalinity_meq_l


def charge_surplus_meq_l(source: Water) -> Floats:
    """Cations less anions; 0 in a water whose every ion is known."""
    return cations_meq_l(source) - anions_meq_l(source)


def balanced(source: Water) -> Water:
    """The same water with its charges closed by sodium where anions lead, chloride where cations
    do."""
    surplus = charge_surplus_meq_l(source)
    return changed(
        source,
        na_mmol_l=source.na_mmol_l + np.maximum(-surplus, 0.0),
        cl_mmol_l=source.cl_mmol_l + np.maximum(surplus, 0.0),
    )
