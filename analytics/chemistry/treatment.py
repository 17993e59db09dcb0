"""What exchange and blending do to a water as a whole, and what the result means for metal.

Exchange is by equivalents and in a closed vessel: inorganic carbon stays, so hydrogen exchange
turns bicarbonate into carbon dioxide and pH falls. Columns that load over time build on these.
"""

from __future__ import annotations

from typing import Final

import msgspec
import numpy as np

from analytics.chemistry.conductivity import ec25_us_cm
from analytics.chemistry.masses import CL, HCO3, ION_MASSES, NA
from analytics.chemistry.water import FIELDS, Water, changed
from analytics.samples import Floats


def calcium_and_magnesium_for_sodium(
    source: Water, ca_mmol_l: float | Floats, mg_mmol_l: float | Floats
) -> Water:
    """Softening: so much calcium and magnesium leaves, two sodium come for each."""
    gone = np.asarray(ca_mmol_l) + np.asarray(mg_mmol_l)
    return changed(
        source,
        ca_mmol_l=source.ca_mmol_l - ca_mmol_l,
        mg_mmol_l=source.mg_mmol_l - mg_mmol_l,
        na_mmol_l=source.na_mmol_l + 2 * gone,
    )


def calcium_and_magnesium_for_hydrogen(
    source: Water, ca_mmol_l: float | Floats, mg_mmol_l: float | Floats
) -> Water:
    """Decarbonising: so much calcium and magnesium leaves, alkalinity falls by two for each."""
    gone = np.asarray(ca_mmol_l) + np.asarray(mg_mmol_l)
    return changed(
        source,
        ca_mmol_l=source.ca_mmol_l - ca_mmol_l,
        mg_mmol_l=source.mg_mmol_l - mg_mmol_l,
        alkalinity_meq_l=source.alkalinity_meq_l - 2 * gone,
    )


def calcium_for_magnesium(source: Water, mmol_l: float | Floats) -> Water:
    """So much calcium leaves, as much magnesium comes."""
    return changed(
        source,
        ca_mmol_l=source.ca_mmol_l - mmol_l,
        mg_mmol_l=source.mg_mmol_l + np.asarray(mmol_l),
    )


def blended(treated: Water, raw: Water, bypass: float | Floats) -> Water:
    """Treated water with the share `bypass` of raw water, mixed by ions.

    Alkalinity and inorganic carbon mix like ions; pH does not, it follows from them.
    """
    share = np.asarray(bypass, dtype=np.float64)
    return Water(**{n: (1 - share) * getattr(treated, n) + share * getattr(raw, n) for n in FIELDS})


def linear_blend_error(treated: Water, raw: Water, bypass: float | Floats) -> Floats:
    """How far a blend by conductivities is off: (linear EC - EC by ions) / EC by ions."""
    share = np.asarray(bypass, dtype=np.float64)
    linear = (1 - share) * ec25_us_cm(treated) + share * ec25_us_cm(raw)
    return np.asarray(linear / ec25_us_cm(blended(treated, raw, share)) - 1)


def bypass_for(target: float | Floats, raw: float | Floats, leak: float | Floats) -> Floats:
    """Bypass share that brings a raw amount down to a target when the medium leaks a share of it.

    b = (target/raw - leak) / (1 - leak), kept within 0-1.
    """
    wanted = (np.asarray(target) / np.asarray(raw) - leak) / (1 - np.asarray(leak))
    return np.asarray(np.clip(wanted, 0.0, 1.0))


def sodium_added_mg_l(hardness_removed_mmol_l: float | Floats) -> Floats:
    """Sodium that softening puts in: 8.2 mg/L for each degree dH removed."""
    return np.asarray(2 * NA * np.asarray(hardness_removed_mmol_l))


def tds_from_ec_mg_l(ec25: float | Floats, factor: float) -> Floats:
    """Dissolved solids as EC25 times a stated factor (0.5-0.7): a convention, no measurement."""
    return np.asarray(np.asarray(ec25) * factor)


def tds_of_ions_mg_l(source: Water) -> Floats:
    """Sum of all ions, alkalinity as bicarbonate."""
    ions = sum(
        getattr(source, f"{ion}_mmol_l") * mass for ion, mass in ION_MASSES.items() if ion != "hco3"
    )
    return np.asarray(ions + source.alkalinity_meq_l * HCO3)


def chloride_mg_l(source: Water) -> Floats:
    """Chloride by mass."""
    return np.asarray(source.cl_mmol_l * CL)


def larson_ratio(source: Water) -> Floats:
    """(Cl + SO4) / alkalinity in equivalents: corrosive to mild steel above about 0.8-1.2.

    Larson & Skold, Corrosion 14 (1958) 285; bands from memory. Infinite without alkalinity.
    """
    strong = source.cl_mmol_l + 2 * source.so4_mmol_l
    alkalinity = np.maximum(source.alkalinity_meq_l, 0.0)
    safe = np.maximum(alkalinity, 1e-12)
    return np.where(alkalinity > 0, strong / safe, np.inf)


class CorrosionLimits(msgspec.Struct, frozen=True, kw_only=True):
    """Where metal is in danger; each limit states its source.

    Chloride 30 mg/L with stainless steel or brass boilers: common practice, no source.
    Alkalinity 0.8 meq/L (40 mg/L CaCO3): lower edge of the SCA 2018 handbook's core zone. pH 6.5:
    (EU) 2020/2184. Larson ratio 0.8: Larson & Skold 1958, from memory.
    """

    chloride_mg_l: float = 30.0
    alkalinity_meq_l: float = 0.8
    ph: float = 6.5
    larson: float = 0.8


class Corrosion(msgspec.Struct, frozen=True, kw_only=True, eq=False):
    """Which limits a water breaks."""

    chloride: np.ndarray
    low_alkalinity: np.ndarray
    low_ph: np.ndarray
    larson: np.ndarray


USUAL_LIMITS: Final = CorrosionLimits()


def corrosion(source: Water, ph: Floats, limits: CorrosionLimits = USUAL_LIMITS) -> Corrosion:
    """Compare with the limits, element by element."""
    return Corrosion(
        chloride=chloride_mg_l(source) > limits.chloride_mg_l,
        low_alkalinity=source.alkalinity_meq_l < limits.alkalinity_meq_l,
        low_ph=np.asarray(ph) < limits.ph,
        larson=larson_ratio(source) > limits.larson,
    )
