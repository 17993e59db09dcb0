"""Invented raw waters and how two or three of them mix in the main.

All amounts are mmol/L, alkalinity in meq/L. Chloride closes the charge balance, so a mixture of
two waters of this kind is again a water of this kind.
"""

from __future__ import annotations

import msgspec
import numpy as np

DH_PER_MMOL = 5.608  # 1 dH = 0.17832 mmol/L of Ca + Mg (10 mg/L CaO; molar mass 56.077 g/mol)
DH_PER_MEQ = 2.804
TOTALS = ("ca", "mg", "na", "k", "alk", "so4")
COLUMNS = ("ca", "mg", "na", "k", "cl", "so4", "c4", "alk")
"""Order of one composition row all over this package; `c4` is total inorganic carbon."""


class RawWater(msgspec.Struct, frozen=True, kw_only=True):
    """One water of the main: total concentrations in mmol/L (`alk` in meq/L) and pH."""

    name: str
    ca: float
    mg: float
    na: float
    k: float
    alk: float
    so4: float
    ph: float

    @property
    def cl(self) -> float:
        """Chloride from the charge balance, mmol/L."""
        return 2 * self.ca + 2 * self.mg + self.na + self.k - self.alk - 2 * self.so4

    @property
    def total_hardness_dh(self) -> float:
        """Calcium and magnesium hardness, dH."""
        return (self.ca + self.mg) * DH_PER_MMOL

    @property
    def alkalinity_dh(self) -> float:
        """Alkalinity in dH; it may exceed the total hardness."""
        return self.alk * DH_PER_MEQ

    @property
    def carbonate_hardness_dh(self) -> float:
        """The share of the hardness that alkalinity can precipitate, dH."""
        return min(self.total_hardness_dh, self.alkalinity_dh)

    @property
    def calcium_hardness_dh(self) -> float:
        """Calcium hardness, dH."""
        return self.ca * DH_PER_MMOL

    def kind_dh(self, kind: str) -> float:
        """Hardness of one kind (`total_hardness`, `carbonate_hardness`, `calcium_hardness`), dH."""
        return float(getattr(self, f"{kind}_dh"))


def _water(name: str, hardness: float, mg_share: float, alk: float, *rest: float) -> RawWater:
    """A water from hardness and alkalinity in dH, Mg share, then Na, K, SO4 (mmol/L) and pH."""
    na, k, so4, ph = rest
    mmol = hardness / DH_PER_MMOL
    return RawWater(
        name=name,
        ca=mmol * (1 - mg_share),
        mg=mmol * mg_share,
        na=na,
        k=k,
        alk=alk / DH_PER_MEQ,
        so4=so4,
        ph=ph,
    )


LIBRARY: tuple[RawWater, ...] = (
    _water("granite_4", 4.2, 0.15, 2.6, 0.55, 0.03, 0.25, 7.9),
    _water("lake_6", 6.2, 0.20, 4.1, 0.45, 0.04, 0.30, 8.0),
    _water("upland_sand_7", 7.1, 0.16, 5.8, 0.80, 0.05, 0.20, 7.8),
    _water("river_mixed_10", 10.4, 0.22, 7.4, 1.30, 0.10, 0.48, 7.8),
    _water("medium_13", 13.2, 0.18, 10.1, 0.90, 0.07, 0.42, 7.6),
    _water("limestone_15", 15.4, 0.12, 13.6, 0.40, 0.03, 0.25, 7.4),
    _water("chalk_18", 18.1, 0.05, 15.2, 0.65, 0.05, 0.30, 7.3),
    _water("chalk_22", 22.4, 0.06, 17.8, 1.00, 0.08, 0.45, 7.2),
    _water("very_hard_chalk_26", 26.3, 0.08, 20.6, 1.30, 0.10, 0.60, 7.1),
    _water("dolomite_17", 17.3, 0.42, 15.6, 0.35, 0.03, 0.22, 7.5),
    _water("magnesian_12", 12.1, 0.50, 9.4, 0.70, 0.06, 0.40, 7.8),
    _water("gypsum_19", 19.2, 0.22, 8.3, 0.90, 0.08, 1.75, 7.6),
    _water("gypsum_28", 28.4, 0.25, 11.2, 1.60, 0.12, 2.60, 7.4),
    _water("soda_8", 8.3, 0.24, 12.6, 2.60, 0.08, 0.35, 7.7),
    _water("soda_11", 10.9, 0.28, 14.8, 2.40, 0.10, 0.30, 7.6),
    _water("soda_5", 4.9, 0.22, 9.2, 2.30, 0.05, 0.25, 8.0),
    _water("coastal_14", 14.2, 0.30, 8.6, 4.20, 0.20, 0.60, 7.6),
    _water("chloride_20", 20.1, 0.20, 11.3, 3.10, 0.15, 0.70, 7.4),
    _water("estuary_9", 9.2, 0.34, 5.2, 3.30, 0.14, 0.40, 7.8),
    _water("loess_24", 24.3, 0.24, 17.1, 0.85, 0.06, 1.10, 7.2),
)


def named(name: str) -> RawWater:
    """The library water of that name; KeyError names what there is."""
    found = {water.name: water for water in LIBRARY}
    if name not in found:
        raise KeyError(f"no raw water {name!r}; there are {', '.join(found)}")
    return found[name]


def relative(
    water: RawWater, name: str, rng: np.random.Generator, scale: float, apart: float = 0.05
) -> RawWater:
    """A neighbour of `water`: all ions times `scale`, each `apart` (ln) off besides."""
    factors = {key: scale * float(np.exp(rng.normal(0, apart))) for key in TOTALS}
    amounts = {key: getattr(water, key) * factors[key] for key in TOTALS}
    made = RawWater(name=name, ph=water.ph + float(rng.normal(0, 0.08)), **amounts)
    if made.cl >= 0.05:
        return made
    return msgspec.structs.replace(made, na=made.na + 0.05 - made.cl)


def mixture(waters: tuple[RawWater, ...], weights: np.ndarray) -> np.ndarray:
    """Rows (Ca, Mg, Na, K, Cl, SO4, alk, pH), one per row of `weights` (share of each water)."""
    table = np.array([[w.ca, w.mg, w.na, w.k, w.cl, w.so4, w.alk, w.ph] for w in waters])
    return np.asarray(weights @ table)


def hardness_dh(rows: np.ndarray, kind: str) -> np.ndarray:
    """Hardness of one kind of composition rows in `COLUMNS` order, dH."""
    total = (rows[:, 0] + rows[:, 1]) * DH_PER_MMOL
    if kind == "total_hardness":
        return np.asarray(total)
    if kind == "calcium_hardness":
        return np.asarray(rows[:, 0] * DH_PER_MMOL)
    return np.minimum(total, rows[:, 7] * DH_PER_MEQ)
