"""Potassium chloride standards for calibrating a probe, at any temperature 0-50 C.

"0.01 KCl" names four liquids that differ by up to 0.34 %, so each standard states its
concentration scale. Conductivity is that of the salt; 1 uS/cm of the water's own carbon dioxide
comes on top in an open bottle.
"""

from __future__ import annotations

from enum import StrEnum
from typing import Final

import numpy as np

from analytics.errors import ModelError
from analytics.samples import Floats


class Scale(StrEnum):
    """What the number before "KCl" counts."""

    MOL_PER_KG = "mol/kg"  # moles per kilogram of water: NIST, IUPAC
    DEMAL = "demal"  # 1 D = 71.1352 g KCl per kg of solution at 0 C: OIML R 56, ASTM D1125
    MOL_PER_L = "mol/L"  # moles per litre at 25 C: SM 2510


MOLAL_TEMPS_C: Final = (0.0, 5.0, 10.0, 15.0, 18.0, 20.0, 25.0, 30.0, 35.0, 40.0, 45.0, 50.0)
MOLAL_US_CM: Final = {
    0.01: (
        *(772.92, 890.96, 1013.95, 1141.45, 1219.93, 1273.03),
        *(1408.23, 1546.63, 1687.79, 1831.27, 1976.62, 2123.43),
    ),
    0.1: (
        *(7116.85, 8183.70, 9291.72, 10437.1, 11140.6, 11615.9),
        *(12824.6, 14059.2, 15316.0, 16591.0, 17880.6, 19180.9),
    ),
    1.0: (
        *(63488.0, 72030.0, 80844.0, 89900.0, np.nan, 99170.0),
        *(108620.0, 118240.0, 127970.0, 137810.0, 147720.0, 157670.0),
    ),
}
"""mol per kg of water, ITS-90. CRC Handbook, 91st ed., p. 5-73; Pratt, Koch, Wu & Berezansky, Pure
Appl. Chem. 73 (2001) 1783. Uncertainty 0.03-0.04 %."""

AT_25_US_CM: Final = {
    (Scale.MOL_PER_KG, 0.01): 1408.23,
    (Scale.MOL_PER_KG, 0.1): 12824.6,
    (Scale.MOL_PER_KG, 1.0): 108620.0,
    (Scale.DEMAL, 0.01): 1408.8,
    (Scale.DEMAL, 0.1): 12856.0,
    (Scale.DEMAL, 1.0): 111342.0,
    (Scale.MOL_PER_L, 0.001): 146.9,
    (Scale.MOL_PER_L, 0.005): 717.5,
    (Scale.MOL_PER_L, 0.01): 1412.0,
    (Scale.MOL_PER_L, 0.02): 2765.0,
    (Scale.MOL_PER_L, 0.05): 6667.0,
    (Scale.MOL_PER_L, 0.1): 12890.0,
    (Scale.MOL_PER_L, 0.2): 24800.0,
    (Scale.MOL_PER_L, 0.5): 58670.0,
    (Scale.MOL_PER_L, 1.0): 111900.0,
}
"""At 25 C: mol/kg as above; demal from OIML R 56:1981 (from memory); mol/L from Standard Methods
2510, table 2510:I."""

LIMITING_TEMPS_C: Final = (0.0, 5.0, 15.0, 25.0, 35.0, 45.0, 55.0)
LIMITING_S_CM2_EQ: Final = (81.7, 94.26, 121.07, 149.85, 180.43, 212.41, 245.69)
"""KCl without end diluted, for the shape of weak standards. Robinson & Stokes, Electrolyte
Solutions, 2nd ed., appendix 6.2 (from memory)."""

DEMAL_AT: Final = {
    0.01: (773.6, 1220.5, 1408.8),
    0.1: (7138.0, 11167.0, 12856.0),
    1.0: (65176.0, 97838.0, 111342.0),
}
"""At 0, 18 and 25 C, OIML R 56:1981 (from memory)."""

_DEGREE = 5


def _shape(temps_c: tuple[float, ...], values: tuple[float, ...]) -> np.polynomial.Polynomial:
    """Values divided by their 25 C value, as a polynomial that is 1 at 25 C."""
    t, kappa = np.array(temps_c), np.array(values)
    known = np.isfinite(kappa)
    fitted = np.polynomial.Polynomial.fit(t[known], kappa[known], _DEGREE)
    return fitted / float(fitted(25.0))


_SHAPES = (
    _shape(LIMITING_TEMPS_C, LIMITING_S_CM2_EQ),
    *(_shape(MOLAL_TEMPS_C, MOLAL_US_CM[molality]) for molality in sorted(MOLAL_US_CM)),
)
_ROOTS = np.sqrt([0.0, *(MOLAL_US_CM[m][MOLAL_TEMPS_C.index(25.0)] for m in sorted(MOLAL_US_CM))])


def standard_us_cm(at_25_us_cm: float, temp_c: float | Floats) -> Floats:
    """What a KCl standard labelled with its 25 C conductivity has at another temperature.

    Between endless dilution and the measured strengths the shape is interpolated in the root of
    conductivity, along which it is nearly straight.

    Raises ModelError outside 0-50 C.
    """
    t = np.asarray(temp_c, dtype=np.float64)
    if np.any(~((t >= 0.0) & (t <= 50.0))):
        raise ModelError(
            "KCl standards are known from 0 to 50 C only", "Bring the standard to room temperature."
        )
    place = float(np.interp(np.sqrt(at_25_us_cm), _ROOTS, np.arange(len(_ROOTS))))
    low = min(int(place), len(_SHAPES) - 2)
    share = place - low
    ratio = (1 - share) * _SHAPES[low](t) + share * _SHAPES[low + 1](t)
    return np.asarray(at_25_us_cm * ratio)


def kcl_us_cm(concentration: float, scale: Scale, temp_c: float | Floats) -> Floats:
    """Conductivity of one of the tabulated KCl solutions at temperature.

    Demal solutions pass through their own values at 0, 18 and 25 C.

    Raises ModelError for a solution that is in no table, and outside 0-50 C.
    """
    at_25 = AT_25_US_CM.get((scale, concentration))
    if at_25 is None:
        known = ", ".join(f"{c:g}" for s, c in AT_25_US_CM if s == scale)
        raise ModelError(
            f"no standard of {concentration:g} {scale} KCl", f"Tabulated are {known} {scale}."
        )
    if scale is not Scale.DEMAL:
        return standard_us_cm(at_25, temp_c)
    knots = np.array([0.0, 18.0, 25.0])
    trim = np.array(DEMAL_AT[concentration]) / standard_us_cm(at_25, knots)
    return np.asarray(standard_us_cm(at_25, temp_c) * np.interp(temp_c, knots, trim))
