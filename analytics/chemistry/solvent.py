"""Water as a solvent: density, permittivity, viscosity and the Debye-Hueckel coefficients.

All take the temperature in C as a number or an array, valid 0-150 C at the pressure that keeps
the water liquid.
"""

from __future__ import annotations

import numpy as np

from analytics.samples import Floats

ZERO_C_K = 273.15


def kelvin(temp_c: float | Floats) -> Floats:
    """Absolute temperature."""
    return np.asarray(temp_c, dtype=np.float64) + ZERO_C_K


def density_kg_l(temp_c: float | Floats) -> Floats:
    """Density of pure water at 1 atm. Kell, J. Chem. Eng. Data 20 (1975) 97, eq. 16."""
    t = np.asarray(temp_c, dtype=np.float64)
    powers = (999.83952, 16.945176, -7.9870401e-3, -46.170461e-6, 105.56302e-9, -280.54253e-12)
    return np.polynomial.polynomial.polyval(t, powers) / (1 + 16.879850e-3 * t) / 1000


def permittivity(temp_c: float | Floats) -> Floats:
    """Relative permittivity at 1 bar. Bradley & Pitzer, J. Phys. Chem. 83 (1979) 1599, 0-350 C."""
    t_k = kelvin(temp_c)
    at_1000_bar = 342.79 * np.exp(-5.0866e-3 * t_k + 9.4690e-7 * t_k**2)
    c = -2.0525 + 3115.9 / (t_k - 182.89)
    b = -8032.5 + 4.2142e6 / t_k + 2.1417 * t_k
    return np.asarray(at_1000_bar + c * np.log((b + 1.0) / (b + 1000.0)))


def viscosity_mpa_s(temp_c: float | Floats) -> Floats:
    """Viscosity of pure water. Kestin, Sokolov & Wakeham, J. Phys. Chem. Ref. Data 7 (1978) 941."""
    d = 20.0 - np.asarray(temp_c, dtype=np.float64)
    slope = 1.2364 - 1.37e-3 * d + 5.7e-6 * d**2
    return np.asarray(1.002 * 10.0 ** (d / (116.0 - d) * slope))


def debye_a(temp_c: float | Floats) -> Floats:
    """Debye-Hueckel A, (kg/mol)^0.5, for base-10 logarithms.

    A = 1.82483e6 sqrt(rho) / (eps T)^1.5 (Truesdell & Jones, J. Res. USGS 2 (1974) 233).
    """
    eps_t = permittivity(temp_c) * kelvin(temp_c)
    return np.asarray(1.82483e6 * np.sqrt(density_kg_l(temp_c)) / eps_t**1.5)


def debye_b(temp_c: float | Floats) -> Floats:
    """Debye-Hueckel B, (kg/mol)^0.5 per angstrom: 50.2916 sqrt(rho) / (eps T)^0.5."""
    eps_t = permittivity(temp_c) * kelvin(temp_c)
    return np.asarray(50.2916 * np.sqrt(density_kg_l(temp_c)) / np.sqrt(eps_t))
