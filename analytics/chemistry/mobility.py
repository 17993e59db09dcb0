"""How fast each charged species of tap water moves in an electric field: the data.

Diffusion coefficients, their heat, ion sizes, size exponents and viscosity exponents are the -dw
entries of phreeqc.dat of 2024-05-22 (PHREEQC 3.8.6; Appelo, Cem. Concr. Res. 101 (2017) 102);
NaCO3 is that of the file up to 3.7.3. `thickens` is the Jones-Dole B coefficient at 25 C (Jenkins &
Marcus, Chem. Rev. 95 (1995) 2695). `swells` is the growth of the molar volume with ionic strength
from the -Vm entries, L/mol at I = 1 mol/kg, with its power.
"""

from __future__ import annotations

from typing import Final

import msgspec
import numpy as np

from analytics.chemistry.species import Species
from analytics.samples import Floats


class Mobility(msgspec.Struct, frozen=True, kw_only=True):
    """One species: D(T) = `diffusion` exp(heat/T - heat/298.15) eta25/eta(T), m2/s."""

    diffusion: float
    heat_k: float = 0.0
    size_angstrom: float = 3.5
    size_power: float = 0.0
    viscosity_power: float = 0.0
    thickens: float = 0.0
    swells: float = 0.0
    swells_power: float = 1.0


def _ion(
    diffusion: float,
    heat_k: float = 0.0,
    size_angstrom: float = 3.5,
    viscosity_power: float = 0.0,
    thickens: float = 0.0,
    **volume: float,
) -> Mobility:
    return Mobility(
        diffusion=diffusion,
        heat_k=heat_k,
        size_angstrom=size_angstrom,
        viscosity_power=viscosity_power,
        thickens=thickens,
        **volume,
    )


MOBILITIES: Final = {
    "H": _ion(9.31e-9, 838.0, 6.96, 0.206, 0.068),
    "Na": _ion(1.33e-9, 75.0, 3.627, 0.7037, 0.085),
    "K": _ion(1.96e-9, 254.0, 3.484, 0.1964, -0.009),
    "Mg": _ion(0.705e-9, -4.0, 5.569, 1.047, 0.385),
    "Ca": _ion(0.792e-9, 34.0, 5.411, 1.046, 0.284),
    "Cl": _ion(2.033e-9, 216.0, 3.16, 0.7432, -0.005, size_power=0.2071),
    "CO3": _ion(0.955e-9, -103.0, 2.246, 0.3686, 0.294, size_power=0.0713),
    "SO4": _ion(
        1.07e-9, -114.0, 17.0, 0.0494, 0.206, size_power=0.0602, swells=25.0, swells_power=0.45
    ),
    "NO3": _ion(1.9e-9, 104.0, 1.11, 0.0, -0.045),
    "OH": _ion(5.27e-9, 478.0, 0.8695, 0.0, 0.122),
    "HCO3": _ion(1.18e-9, -190.0, 11.386, 0.0, 0.130),
    "HSO4": _ion(1.22e-9, 1000.0, 15.0, 0.0, 0.127, size_power=2.861),
    "CaHCO3": _ion(5.06e-10),
    "MgHCO3": _ion(4.78e-10),
    "NaCO3": _ion(5.85e-10),
    "NaSO4": _ion(1.13e-9, -23.0, 8.5, 0.521, size_power=0.392, swells=40.6, swells_power=0.2325),
    "KSO4": _ion(0.9e-9, 63.0, 8.48, 1.8),
}


class Carriers(msgspec.Struct, frozen=True, kw_only=True, eq=False):
    """The mobile species of one sign as columns, shaped to multiply molalities of that layout."""

    rows: tuple[int, ...]
    charge: Floats
    diffusion: Floats
    heat_k: Floats
    size_angstrom: Floats
    size_power: Floats
    viscosity_power: Floats
    thickens: Floats
    swells: Floats
    swells_power: Floats


def carriers(table: tuple[Species, ...], sign: int, dimensions: int) -> Carriers:
    """Mobile species of this sign (+1 or -1), with `dimensions` axes behind the species axis."""
    found = [(i, s) for i, s in enumerate(table) if s.charge * sign > 0 and s.name in MOBILITIES]

    def column(values: list[float]) -> Floats:
        return np.array(values, dtype=np.float64).reshape(-1, *(1,) * dimensions)

    moves = [MOBILITIES[s.name] for _, s in found]
    fields = [name for name in Carriers.__struct_fields__ if name not in ("rows", "charge")]
    return Carriers(
        rows=tuple(i for i, _ in found),
        charge=column([abs(s.charge) for _, s in found]),
        **{name: column([getattr(m, name) for m in moves]) for name in fields},
    )
