"""Alkalinity, hydrogen ion and CO2 inside the column, at 25 C.

Concentration constants are the thermodynamic ones of Plummer & Busenberg (Geochim. Cosmochim.
Acta 46 (1982) 1011) and of water, divided by activity coefficients after Davies (Ion Association,
1962). All amounts are in mmol/L.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from analytics.samples import Floats

K1: Final = 10.0**-6.3519 * 1e3
K2: Final = 10.0**-10.3289 * 1e3
KW: Final = 10.0**-13.9948 * 1e6
DAVIES_A: Final = 0.5108


def davies(ionic_strength_mol_l: Floats) -> Floats:
    """Activity coefficient of a singly charged ion. Valid to 0.1 mol/L."""
    root = np.sqrt(ionic_strength_mol_l)
    return np.power(10.0, -DAVIES_A * (root / (1.0 + root) - 0.3 * ionic_strength_mol_l))


def alkalinity(h: Floats, dic: Floats, gamma: Floats) -> tuple[Floats, Floats]:
    """Alkalinity at hydrogen-ion concentration `h`, and its change with ln h (never positive)."""
    square = gamma * gamma
    k1, k2, kw = K1 / square, K2 / (square * square), KW / square
    whole = h * h + k1 * h + k1 * k2
    one, two = k1 * h / whole, k1 * k2 / whole
    charge = one + 2.0 * two
    hydroxide = kw / h
    slope = dic * (charge * charge - one - 4.0 * two) - hydroxide - h
    return dic * charge + hydroxide - h, slope


def hydrogen(alkalinity_meq_l: Floats, dic: Floats, gamma: Floats) -> Floats:
    """Hydrogen-ion concentration of a water with this alkalinity and inorganic carbon.

    Bisection in ln h (monotone), then three Newton steps: no start value is needed and no water
    fails.
    """
    shape = np.broadcast_shapes(np.shape(alkalinity_meq_l), np.shape(dic), np.shape(gamma))
    low = np.full(shape, np.log(1e-12))
    high = np.full(shape, np.log(1e3))
    for _ in range(24):
        middle = 0.5 * (low + high)
        over = alkalinity(np.exp(middle), dic, gamma)[0] > alkalinity_meq_l
        low, high = np.where(over, middle, low), np.where(over, high, middle)
    log_h = 0.5 * (low + high)
    for _ in range(3):
        found, slope = alkalinity(np.exp(log_h), dic, gamma)
        log_h = log_h + np.clip((alkalinity_meq_l - found) / slope, -1e-3, 1e-3)
    result: Floats = np.exp(log_h)
    return result


def ph(alkalinity_meq_l: Floats, dic: Floats, gamma: Floats) -> Floats:
    """pH of a water with this alkalinity and inorganic carbon."""
    result: Floats = -np.log10(hydrogen(alkalinity_meq_l, dic, gamma) * gamma / 1e3)
    return result
