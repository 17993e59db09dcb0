"""The four media as PHREEQC exchangers: which sites, which affinities, what is on them when new."""

from __future__ import annotations

import msgspec
import numpy as np

KIND = {
    "hydrogen": "carbonate_hardness",
    "mixed": "carbonate_hardness",
    "sodium": "total_hardness",
    "magnesium": "calcium_hardness",
}
"""The hardness that the rated capacity of a medium counts."""

SITES_PER_RATED = {"hydrogen": 1.11, "mixed": 1.42, "sodium": 1.10, "magnesium": 1.28}
"""Exchange sites per rated capacity: a maker rates what a cartridge gives up to its end."""

EXPECTED_YIELD = {"hydrogen": 0.97, "mixed": 0.77, "sodium": 0.97, "magnesium": 0.87}
"""Share of the rated capacity used up to the end, typically (from runs of these columns)."""

USUAL_LEAKAGE = {"hydrogen": 0.01, "mixed": 0.18, "sodium": 0.0, "magnesium": 0.04}
"""Share of the hardness that a new bed lets through, typically."""

_UNEVENNESS = {
    "hydrogen": (0.06, 0.12),
    "mixed": (0.09, 0.16),
    "sodium": (0.06, 0.12),
    "magnesium": (0.08, 0.16),
}
"""Spread (log-normal) of the medium per flow over the tubes of a bed."""

_ION = {"H": "H+", "Na": "Na+", "K": "K+", "Ca": "Ca+2", "Mg": "Mg+2"}
_SITES = {"H": 1, "Na": 1, "K": 1, "Ca": 2, "Mg": 2}


class Recipe(msgspec.Struct, frozen=True, kw_only=True):
    """A bed: log K against Na, what occupies the sites at the start, and how uneven the flow is."""

    log_k: dict[str, float]
    start: dict[str, float]
    cells: int
    turnovers: float
    unevenness: float
    tubes: int


def recipe(medium: str, rng: np.random.Generator, coarse: bool = False) -> Recipe:
    """A bed of that medium, a little different each time."""
    weak = medium in ("hydrogen", "mixed")
    low, high = _UNEVENNESS[medium]
    return Recipe(
        log_k=_carboxylic(medium, rng) if weak else _sulphonic(rng),
        start=_start(medium, rng),
        cells=6 if coarse else int(rng.integers(15, 21)),
        turnovers=11.0 if coarse else 28.0,
        unevenness=float(rng.uniform(low, high)),
        tubes=2 if coarse else 6,
    )


def _carboxylic(medium: str, rng: np.random.Generator) -> dict[str, float]:
    """Weak acid sites: H far above Ca above Mg above Na (handbook order, values assumed)."""
    proton = {"hydrogen": 4.62, "mixed": 4.86}[medium]
    ca = 2.0 + rng.normal(0, 0.06)
    return {
        "H": proton + float(rng.normal(0, 0.07)),
        "Na": 0.0,
        "K": 0.2 + float(rng.normal(0, 0.05)),
        "Mg": float(ca) - 0.45 + float(rng.normal(0, 0.05)),
        "Ca": float(ca),
    }


def _sulphonic(rng: np.random.Generator) -> dict[str, float]:
    """Strong acid sites: phreeqc.dat (Na 0, K 0.7, Mg 0.6, Ca 0.8), a little off each time."""
    base = {"K": 0.7, "Mg": 0.6, "Ca": 0.8}
    return {"Na": 0.0} | {ion: value + float(rng.normal(0, 0.04)) for ion, value in base.items()}


def _start(medium: str, rng: np.random.Generator) -> dict[str, float]:
    """Share of the sites that each ion holds when the cartridge is new."""
    if medium == "hydrogen":
        return {"H": 1.0}
    if medium == "mixed":
        magnesium = float(rng.uniform(0.30, 0.42))
        return {"H": 1 - magnesium, "Mg": magnesium}
    if medium == "sodium":
        return {"Na": 1.0}
    calcium = float(rng.uniform(0.018, 0.03))
    return {"Mg": 1 - calcium, "Ca": calcium}


def definitions(bed: Recipe) -> str:
    """PHREEQC text that defines the exchanger `Z` of the bed as a master species of its own."""
    lines = ["EXCHANGE_MASTER_SPECIES", " Z Z-", "EXCHANGE_SPECIES", " Z- = Z-", " log_k 0"]
    for ion, value in bed.log_k.items():
        sites = _SITES[ion]
        count = "" if sites == 1 else str(sites)
        lines += [f" {_ION[ion]} + {count}Z- = {ion}Z{count}", f" log_k {value:.5f}"]
    return "\n".join([*lines, "END"])


def occupied(bed: Recipe, capacity_mol: float) -> str:
    """PHREEQC lines of an EXCHANGE block with `capacity_mol` sites."""
    lines = []
    for ion, share in bed.start.items():
        sites = _SITES[ion]
        lines.append(f" {ion}Z{'' if sites == 1 else sites} {capacity_mol * share / sites:.8g}")
    return "\n".join(lines)
