"""Carbonate equilibria 0-125 C: pH, carbon dioxide and inorganic carbon of a water."""

from __future__ import annotations

from typing import Final

import numpy as np

from analytics.chemistry.speciation import speciate, speciate_at_ph
from analytics.chemistry.species import (
    ARAGONITE_LOG_K,
    CO2_LOG_K,
    HCO3_LOG_K,
    HENRY_LOG_K,
    PHREEQC_386,
    VATERITE_LOG_K,
    WATER_LOG_K,
    Constants,
    log_k,
)
from analytics.chemistry.water import WATER_KG_PER_L, Water, changed
from analytics.errors import ModelError
from analytics.samples import Floats

LOWEST_PH: Final = 3.0
HIGHEST_PH: Final = 11.0
"""Beyond these no drinking water is."""
_ROUNDS: Final = 60


def pk1(temp_c: float | Floats) -> Floats:
    """CO2 + H2O = H+ + HCO3-. Plummer & Busenberg 1982, 0-250 C."""
    return log_k(CO2_LOG_K, temp_c) - log_k(HCO3_LOG_K, temp_c)


def pk2(temp_c: float | Floats) -> Floats:
    """HCO3- = H+ + CO3 2-. Plummer & Busenberg 1982, 0-250 C."""
    return log_k(HCO3_LOG_K, temp_c)


def pk_water(temp_c: float | Floats) -> Floats:
    """H2O = H+ + OH-, the form of phreeqc.dat (PHREEQC 3.7 and 3.8), 0-125 C."""
    return -log_k(WATER_LOG_K, temp_c)


def pk_henry(temp_c: float | Floats) -> Floats:
    """CO2(gas) = CO2, mol/kg/atm. Plummer & Busenberg 1982."""
    return -log_k(HENRY_LOG_K, temp_c)


def pks_calcite(temp_c: float | Floats, constants: Constants = PHREEQC_386) -> Floats:
    """Solubility product of calcite; the two sets part above 40 C."""
    return -log_k(constants.calcite, temp_c)


def pks_aragonite(temp_c: float | Floats) -> Floats:
    """Solubility product of aragonite. Plummer & Busenberg 1982, 0-90 C."""
    return -log_k(ARAGONITE_LOG_K, temp_c)


def pks_vaterite(temp_c: float | Floats) -> Floats:
    """Solubility product of vaterite. Plummer & Busenberg 1982, 0-90 C."""
    return -log_k(VATERITE_LOG_K, temp_c)


def debye_a_simple(temp_c: float | Floats) -> Floats:
    """Debye-Hueckel A as used with SM 2330: 1.82e6 (eps T)^-1.5, eps = 60954/(T+116) - 68.937."""
    t_k = np.asarray(temp_c, dtype=np.float64) + 273.15
    permittivity = 60954 / (t_k + 116) - 68.937
    return np.asarray(1.82e6 * (permittivity * t_k) ** -1.5)


def ph(source: Water, temp_c: float | Floats = 25.0, constants: Constants = PHREEQC_386) -> Floats:
    """pH at temperature from alkalinity and inorganic carbon."""
    return speciate(source, temp_c, constants).ph


def co2_mmol_l(source: Water, temp_c: float | Floats = 25.0) -> Floats:
    """Dissolved carbon dioxide."""
    return speciate(source, temp_c).molality("CO2") * 1000 * WATER_KG_PER_L


def with_ph(
    source: Water,
    measured: float | Floats,
    temp_c: float | Floats = 25.0,
    constants: Constants = PHREEQC_386,
) -> Water:
    """The water with the inorganic carbon that its alkalinity has at this pH.

    Raises ModelError for a pH that no drinking water has, or that this alkalinity cannot have.
    """
    given = np.asarray(measured, dtype=np.float64)
    outside = ~((given >= LOWEST_PH) & (given <= HIGHEST_PH))
    if np.any(outside):
        raise ModelError(
            f"pH {float(given[outside].ravel()[0]):g} cannot be: tap water lies between "
            f"{LOWEST_PH:g} and {HIGHEST_PH:g}",
            "Read the pH again, or leave it out.",
        )
    found = speciate_at_ph(source, given, temp_c, constants)
    return changed(source, dic_mmol_l=found.dic_mmol_l())


def with_co2(source: Water, co2: float | Floats, temp_c: float | Floats = 25.0) -> Water:
    """The water with so much dissolved carbon dioxide, mmol/L, at temperature.

    The inorganic carbon is found by bisection: CO2 rises with it throughout.
    """
    wanted = np.asarray(co2, dtype=np.float64)
    shape = np.broadcast_shapes(source.shape, wanted.shape, np.shape(temp_c))
    low = np.zeros(shape)
    high = np.broadcast_to(np.maximum(source.alkalinity_meq_l, 0.0) * 1.2 + wanted + 1e-6, shape)
    for _ in range(_ROUNDS):
        middle = (low + high) / 2
        less = co2_mmol_l(changed(source, dic_mmol_l=middle), temp_c) < wanted
        low, high = np.where(less, middle, low), np.where(less, high, middle)
    return changed(source, dic_mmol_l=(low + high) / 2)


def aerated(source: Water, temp_c: float | Floats, pressure_atm: float = 4.2e-4) -> Water:
    """The water in equilibrium with carbon dioxide in air; 420 ppm by default."""
    wanted = pressure_atm * 10.0 ** -pk_henry(temp_c) * 1000 * WATER_KG_PER_L
    return with_co2(source, wanted, temp_c)
