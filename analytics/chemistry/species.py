"""What dissolved ions turn into: the species of tap water and their constants, as data.

Two sets of constants, because the published ones differ where it matters (boilers):

- `PHREEQC_386`: the file phreeqc.dat of 22 May 2024 that comes with PHREEQC 3.8.6 (USGS, public
  domain). Its calcite constant follows Ellis (1959) above 90 C.
- `PLUMMER_BUSENBERG_1982`: carbonate constants of Plummer & Busenberg, Geochim. Cosmochim. Acta
  46 (1982) 1011, with the other ion pairs of phreeqc.dat as it stood up to PHREEQC 3.7.3.

At 25 C both give the same calcite constant; at 95 C they are 0.31 apart, at 125 C 0.51.
"""

from __future__ import annotations

from typing import Final, TypeAlias

import msgspec
import numpy as np

from analytics.chemistry.solvent import kelvin
from analytics.samples import Floats

PARTS: Final = ("ca", "mg", "na", "k", "cl", "so4", "no3", "co3", "h")
"""What species are made of; the order of `Species.counts`."""
PART_CHARGES: Final = (2, 2, 1, 1, -1, -2, -1, -2, 1)

LogK: TypeAlias = tuple[float, float, float, float, float, float]
"""log10 K = A1 + A2 T + A3/T + A4 log10 T + A5/T^2 + A6 T^2, T in kelvin."""

DAVIES: Final = None
"""Stands in `Species.activity` for the Davies equation."""


class Species(msgspec.Struct, frozen=True, kw_only=True):
    """One dissolved species, its formation from `PARTS` and its activity coefficient.

    `activity` is (a, b) of log10 g = -A z^2 sqrt(I) / (1 + B a sqrt(I)) + b I, a in angstrom
    (Truesdell & Jones 1974). An uncharged species without its own b has b = 0.1.
    """

    name: str
    counts: tuple[int, ...]
    charge: int
    log_k: LogK
    activity: tuple[float, float] | None


class Constants(msgspec.Struct, frozen=True, kw_only=True):
    """A consistent set of constants, by name and source."""

    name: str
    source: str
    species: tuple[Species, ...]
    calcite: LogK


def log_k(form: LogK, temp_c: float | Floats) -> Floats:
    """log10 of an equilibrium constant at temperature."""
    t = kelvin(temp_c)
    a1, a2, a3, a4, a5, a6 = form
    return np.asarray(a1 + a2 * t + a3 / t + a4 * np.log10(t) + a5 / t**2 + a6 * t**2)


def analytic(*terms: float) -> LogK:
    """A constant from its first few terms, the others being 0."""
    a1, a2, a3, a4, a5, a6 = (*terms, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0)[:6]
    return a1, a2, a3, a4, a5, a6


def van_t_hoff(at_25: float, enthalpy_kj: float) -> LogK:
    """A constant known at 25 C with its reaction enthalpy, kJ/mol."""
    slope = enthalpy_kj / (8.31446e-3 * np.log(10.0))
    return analytic(at_25 + slope / 298.15, 0.0, -slope)


def combined(first: LogK, second: LogK) -> LogK:
    """The constant of two reactions after one another."""
    return analytic(*(a + b for a, b in zip(first, second, strict=True)))


KCAL_KJ: Final = 4.184
_ITSELF: Final = analytic()


def species(
    name: str, parts: str, form: LogK, activity: tuple[float, float] | None = DAVIES
) -> Species:
    """A species from its parts, written apart: "ca co3 h", "-h" for a hydroxide."""
    counts = [0] * len(PARTS)
    for part in parts.split():
        counts[PARTS.index(part.removeprefix("-"))] += -1 if part.startswith("-") else 1
    charge = sum(n * z for n, z in zip(counts, PART_CHARGES, strict=True))
    if charge == 0 and activity is None:
        activity = (0.0, 0.1)
    return Species(name=name, counts=tuple(counts), charge=charge, log_k=form, activity=activity)


WATER_LOG_K: Final = analytic(293.29227, 0.1360833, -10576.913, -123.73158, 0.0, -6.996455e-5)
"""H2O = H+ + OH-."""

_FREE_IONS: Final = (
    species("Ca", "ca", _ITSELF, (5.0, 0.165)),
    species("Mg", "mg", _ITSELF, (5.5, 0.20)),
    species("Na", "na", _ITSELF, (4.08, 0.082)),
    species("K", "k", _ITSELF, (3.5, 0.015)),
    species("Cl", "cl", _ITSELF, (3.63, 0.017)),
    species("SO4", "so4", _ITSELF, (5.0, -0.04)),
    species("NO3", "no3", _ITSELF, (3.0, 0.0)),
    species("CO3", "co3", _ITSELF, (5.4, 0.0)),
    species("H", "h", _ITSELF, (9.0, 0.0)),
    species("OH", "-h", WATER_LOG_K, (3.5, 0.0)),
)

HCO3_LOG_K: Final = analytic(107.8871, 0.03252849, -5151.79, -38.92561, 563713.9)
"""H+ + CO3 2- = HCO3-: the inverse of the second dissociation, Plummer & Busenberg 1982."""
CO2_LOG_K: Final = analytic(464.1965, 0.09344813, -26986.16, -165.75951, 2248628.9)
"""2 H+ + CO3 2- = CO2 + H2O: the inverse of both, Plummer & Busenberg 1982."""
HENRY_LOG_K: Final = analytic(108.3865, 0.01985076, -6919.53, -40.45154, 669365.0)
"""CO2(g) = CO2(aq), mol/kg/atm, Plummer & Busenberg 1982."""

_SHARED_PAIRS: Final = (
    species("HCO3", "co3 h", HCO3_LOG_K, (5.4, 0.0)),
    species("HSO4", "so4 h", analytic(-56.889, 0.006473, 2307.9, 19.8858)),
    species("CaOH", "ca -h", analytic(-12.78)),
    species("CaCO3", "ca co3", analytic(-1228.732, -0.29944, 35512.75, 485.818)),
    species("CaSO4", "ca so4", van_t_hoff(2.25, 1.325 * KCAL_KJ)),
    species("MgOH", "mg -h", van_t_hoff(-11.44, 15.952 * KCAL_KJ), (6.5, 0.0)),
    species("MgCO3", "mg co3", analytic(0.991, 0.00667)),
    species(
        "MgHCO3",
        "mg co3 h",
        analytic(48.6721, 0.03252849, -2614.335, -18.00263, 563713.9),
        (4.0, 0.0),
    ),
)

PHREEQC_386: Final = Constants(
    name="phreeqc-3.8.6",
    source="PHREEQC 3.8.6, phreeqc.dat of 2024-05-22",
    species=(
        *_FREE_IONS,
        *_SHARED_PAIRS,
        species("CO2", "co3 h h", CO2_LOG_K, (0.0, 0.066)),
        species("CaHCO3", "ca co3 h", analytic(-6.009, 3.377e-2, 2044.0), (6.0, 0.0)),
        species("MgSO4", "mg so4", analytic(0.0, 9.64e-3, -136.0), (0.0, 0.2)),
        species("NaHCO3", "na co3 h", combined(HCO3_LOG_K, van_t_hoff(-0.06, 21.0)), (0.0, 0.2)),
        species(
            "NaSO4", "na so4", analytic(255.903, 0.10057, 0.0, -111.138, -8.5983e5), (5.5, 0.0)
        ),
        species("KHCO3", "k co3 h", combined(HCO3_LOG_K, van_t_hoff(-0.35, 12.0)), (0.0, 9.4e-3)),
        species("KSO4", "k so4", analytic(-3.0246, 9.986e-3, 0.0, 0.0, 1.093e5), (5.4, 0.19)),
    ),
    calcite=analytic(17.118, -0.046528, -3496.0),
)

PLUMMER_BUSENBERG_1982: Final = Constants(
    name="plummer-busenberg-1982",
    source="Plummer & Busenberg 1982; other pairs from phreeqc.dat up to PHREEQC 3.7.3",
    species=(
        *_FREE_IONS,
        *_SHARED_PAIRS,
        species("CO2", "co3 h h", CO2_LOG_K),
        species(
            "CaHCO3",
            "ca co3 h",
            analytic(1317.0071, 0.34546894, -39916.84, -517.70761, 563713.9),
            (6.0, 0.0),
        ),
        species("MgSO4", "mg so4", van_t_hoff(2.37, 4.550 * KCAL_KJ)),
        species("NaHCO3", "na co3 h", combined(HCO3_LOG_K, van_t_hoff(-0.25, -1.0 * KCAL_KJ))),
        species("NaCO3", "na co3", van_t_hoff(1.27, 8.91 * KCAL_KJ)),
        species("NaSO4", "na so4", van_t_hoff(0.7, 1.12 * KCAL_KJ), (5.4, 0.0)),
        species("KSO4", "k so4", analytic(3.106, 0.0, -673.6), (5.4, 0.0)),
    ),
    calcite=analytic(-171.9065, -0.077993, 2839.319, 71.595),
)

DATABASES: Final = {c.name: c for c in (PHREEQC_386, PLUMMER_BUSENBERG_1982)}

ARAGONITE_LOG_K: Final = analytic(-171.9773, -0.077993, 2903.293, 71.595)
VATERITE_LOG_K: Final = analytic(-172.1295, -0.077993, 3074.688, 71.595)
"""Solubility products, Plummer & Busenberg 1982."""
