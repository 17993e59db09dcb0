"""Molar masses of what is dissolved in tap water, g/mol.

Source: IUPAC Commission on Isotopic Abundances and Atomic Weights (CIAAW), abridged standard
atomic weights. Sums of them are exact to the last digit given.
"""

from __future__ import annotations

from typing import Final

H: Final = 1.008
C: Final = 12.011
N: Final = 14.007
O: Final = 15.999  # noqa: E741 - the chemical symbol
NA: Final = 22.98977
MG: Final = 24.305
S: Final = 32.06
CL: Final = 35.45
K: Final = 39.0983
CA: Final = 40.078

CAO: Final = CA + O
CO2: Final = C + 2 * O
HCO3: Final = H + C + 3 * O
CACO3: Final = CA + C + 3 * O
SO4: Final = S + 4 * O
NO3: Final = N + 3 * O
NACL: Final = NA + CL

ION_MASSES: Final = {
    "ca": CA,
    "mg": MG,
    "na": NA,
    "k": K,
    "cl": CL,
    "so4": SO4,
    "no3": NO3,
    "hco3": HCO3,
}
"""By the short names used in field names (`ca_mmol_l`)."""
