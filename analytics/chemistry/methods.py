"""Other published ways from ions to EC25, to see how far methods disagree.

On one hard water four methods span 9 %: a level from ions is never better than that, while what
a medium changes agrees within a few percent of raw EC. Nothing here is used for estimates.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

import numpy as np

from analytics.chemistry.conductivity import ec_us_cm
from analytics.chemistry.speciation import Speciation, speciate
from analytics.chemistry.water import CHARGES, IONS, Water
from analytics.samples import Floats

LIMITING_S_CM2_EQ: Final = {
    "ca": 59.47,
    "mg": 53.0,
    "na": 50.08,
    "k": 73.48,
    "cl": 76.31,
    "so4": 80.0,
    "no3": 71.42,
    "hco3": 44.5,
    "co3": 69.3,
    "h": 349.65,
    "oh": 198.0,
    "nh4": 73.5,
}
"""Limiting equivalent conductivities at 25 C, CRC Handbook, "Ionic conductivity and diffusion at
infinite dilution"."""


SM_LIMITING_S_CM2_EQ: Final = LIMITING_S_CM2_EQ | {
    "ca": 59.5,
    "mg": 53.1,
    "na": 50.1,
    "k": 73.5,
    "cl": 76.4,
    "no3": 71.4,
    "co3": 72.0,
    "h": 350.0,
    "oh": 198.6,
}
"""The same as rounded in Standard Methods 2510 (from memory)."""


def limiting_us_cm(source: Water, table: Mapping[str, float] = LIMITING_S_CM2_EQ) -> Floats:
    """Sum of limiting conductivities, alkalinity as bicarbonate: no ion feels another."""
    strong = sum(abs(CHARGES[ion]) * table[ion] * getattr(source, f"{ion}_mmol_l") for ion in IONS)
    return np.asarray(strong + table["hco3"] * source.alkalinity_meq_l)


def simple_strength(source: Water) -> Floats:
    """Ionic strength without pairs, mol/L, alkalinity as bicarbonate."""
    strong = sum(CHARGES[ion] ** 2 * getattr(source, f"{ion}_mmol_l") for ion in IONS)
    return np.asarray((strong + source.alkalinity_meq_l) / 2000)


def sm2510_activity(strength: Floats) -> Floats:
    """Monovalent activity coefficient y of Standard Methods 2510 B."""
    root = np.sqrt(strength)
    return np.asarray(10.0 ** (-0.5 * (root / (1 + root) - 0.3 * strength)))


def sm2510_us_cm(source: Water, table: Mapping[str, float] = LIMITING_S_CM2_EQ) -> Floats:
    """Calculated conductivity of Standard Methods 2510 B: k = k0 y^2.

    Only for bicarbonate drinking water, within 10 %: it contradicts the same method's KCl table
    (0.01 mol/L KCl: 1223 for 1412 uS/cm).
    """
    return np.asarray(limiting_us_cm(source, table) * sm2510_activity(simple_strength(source)) ** 2)


MCCLESKEY_2012: Final = {
    "K": (0.003046, 1.261, 40.70, 0.00535, 0.9316, 22.59, 1.5),
    "Na": (0.003763, 0.8770, 26.23, 0.00027, 1.141, 32.07, 1.7),
    "H": (0.01414, 5.355, 224.2, 0.00918, 1.842, 39.23, 0.3),
    "Ca": (0.009645, 1.984, 62.28, 0.03174, 2.334, 132.3, 2.8),
    "Mg": (0.01068, 1.695, 57.16, 0.02453, 1.915, 80.50, 2.1),
    "Cl": (0.003817, 1.337, 40.99, 0.00613, 0.9469, 22.01, 1.5),
    "HCO3": (0.000614, 0.9048, 21.14, 0.00503, 0.8957, 10.97, 0.1),
    "CO3": (0.00326, 2.998, 64.03, 0.00181, 5.542, 120.2, 2.3),
    "SO4": (0.01037, 2.838, 82.37, 0.03324, 5.889, 193.5, 2.6),
    "NO3": (0.001925, 1.214, 39.90, 0.00118, 0.5045, 23.31, 0.1),
    "OH": (0.003396, 2.925, 121.3, 0.00933, 0.1086, 35.90, 0.01),
}
"""a2, a1, a0, b2, b1, b0, B of McCleskey, Nordstrom, Ryan & Ball, Geochim. Cosmochim. Acta 77
(2012) 369, table 1."""


def mccleskey_of(found: Speciation) -> Floats:
    """Conductivity at the speciation's temperature, uS/cm. McCleskey et al. 2012.

    kappa = sum(lambda m),
    lambda = a2 t^2 + a1 t + a0 - (b2 t^2 + b1 t + b0) sqrt(I)/(1 + B sqrt(I));
    0-95 C, I 0.0004-0.7 of the whole solution, speciated molalities.
    """
    t, root = found.temp_c, np.sqrt(found.ionic_strength)
    total: Floats = np.zeros_like(found.ionic_strength)
    for name, (a2, a1, a0, b2, b1, b0, b) in MCCLESKEY_2012.items():
        free = a2 * t**2 + a1 * t + a0
        slowed = (b2 * t**2 + b1 * t + b0) * root / (1 + b * root)
        total = total + (free - slowed) * found.molality(name)
    return np.asarray(total * 1000)


def mccleskey_us_cm(source: Water, temp_c: float | Floats = 25.0) -> Floats:
    """Conductivity of a water at temperature by McCleskey et al. 2012."""
    return mccleskey_of(speciate(source, temp_c))


def by_every_method(source: Water) -> dict[str, Floats]:
    """EC25 by each method, the one in use first."""
    found = speciate(source, 25.0)
    return {
        "as PHREEQC 3.8.6": ec_us_cm(found),
        "the same, independent ions": ec_us_cm(found, independent=True),
        "McCleskey 2012": mccleskey_of(found),
        "SM 2510 B": sm2510_us_cm(source),
    }
