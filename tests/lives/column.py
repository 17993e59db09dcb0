"""Exchange columns in PHREEQC: treated water behind a bed fed with a changing raw water.

The bed is a bundle of equal-flow tubes that hold unequal amounts of medium; each tube is a row
of well mixed cells (ADVECTION). The pore volume is kept small and taken out again: the water
that entered with parcel j is what leaves as parcel j.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from statistics import NormalDist

import numpy as np

from .engine import Engine, cached
from .media import Recipe, definitions, occupied
from .waters import hardness_dh


class UnfitLifeError(Exception):
    """A drawn life without an end in sight, or far out of size: draw another."""


RawAt = Callable[[float], np.ndarray]
"""Bed litres -> one row (Ca, Mg, Na, K, Cl, SO4, alk, pH)."""

_PUNCH = """SELECTED_OUTPUT
 -reset false
USER_PUNCH
 -start
 10 f = 1000
 20 PUNCH TOT("Ca")*f, TOT("Mg")*f, TOT("Na")*f, TOT("K")*f, TOT("Cl")*f, TOT("S(6)")*f
 30 PUNCH TOT("C(4)")*f, ALK*f
 -end
PRINT
 -reset false
END"""
_BLOCK = 4


class Column:
    """What one bed gives: raw and treated composition (`COLUMNS` order) against bed litres."""

    def __init__(self, litres: np.ndarray, raw: np.ndarray, treated: np.ndarray) -> None:
        self.litres = litres
        self.raw = raw
        self.treated = treated

    def treated_at(self, bed_litres: np.ndarray) -> np.ndarray:
        """Treated composition at bed litres, linear between parcels, flat outside."""
        return _at(bed_litres, self.litres, self.treated)

    def raw_at(self, bed_litres: np.ndarray) -> np.ndarray:
        """Raw composition with its inorganic carbon at bed litres, linear between parcels."""
        return _at(bed_litres, self.litres, self.raw)


def _at(where: np.ndarray, litres: np.ndarray, rows: np.ndarray) -> np.ndarray:
    return np.stack([np.interp(where, litres, rows[:, i]) for i in range(rows.shape[1])], axis=1)


def solution(number: str, row: np.ndarray) -> str:
    """A PHREEQC solution from (Ca, Mg, Na, K, Cl, SO4, alk, pH)."""
    ca, mg, na, k, cl, so4, alk, ph = (f"{value:.6g}" for value in row)
    return (
        f"SOLUTION {number}\n units mmol/kgw\n temp 25\n pH {ph}\n Ca {ca}\n Mg {mg}\n Na {na}\n"
        f" K {k}\n Cl {cl}\n S(6) {so4}\n Alkalinity {alk}\nEND\n"
    )


class _Tube:
    """One row of cells in its own PHREEQC instance."""

    def __init__(self, bed: Recipe, cell_mol: float, first: np.ndarray) -> None:
        self._cells = bed.cells
        cells = f"1-{bed.cells}"
        self._engine = Engine(definitions(bed))
        self._engine.run(
            solution("0", first)
            + solution(cells, first)
            + f"EXCHANGE {cells}\n{occupied(bed, cell_mol)}\nEND\n"
        )
        self._engine.run(_PUNCH)

    def push(self, row: np.ndarray, parcels: int) -> np.ndarray:
        """What leaves the last cell while `parcels` pore parcels of raw water `row` enter."""
        out = self._engine.run(
            f"{solution('0', row)}ADVECTION\n -cells {self._cells}\n -shifts {parcels}\n"
            f" -punch_cells {self._cells}\n -print_frequency 1000000\nEND\n"
        )
        return out[-parcels:]  # before them PHREEQC writes the state it starts from


def run_column(
    bed: Recipe, capacity_eq: float, litres: float, raw_at: RawAt, kind: str, beyond: float
) -> dict[str, np.ndarray]:
    """Run the bed until `beyond` times its end; `litres` is the expected bed litres to the end.

    Raises UnfitLifeError when the bed is not exhausted after four times the expected litres.
    """
    parcels_expected = bed.cells * bed.turnovers
    per_parcel = litres / parcels_expected
    mean_mol = capacity_eq / per_parcel / bed.cells
    tubes = [_Tube(bed, mean_mol * share, raw_at(0.0)) for share in _shares(bed)]
    carbon = _Carbon()
    raw, treated = [], []
    stop = 4.0 * parcels_expected
    pushed = look = 0
    while pushed - bed.cells < stop:
        block = _block(raw_at, per_parcel, pushed)
        row = raw_at(per_parcel * (pushed + block / 2))
        treated.append(np.mean([tube.push(row, block) for tube in tubes], axis=0))
        raw.append(np.repeat(carbon.completed(row)[None, :], block, axis=0))
        pushed += block
        if stop == 4.0 * parcels_expected and pushed >= look:
            look = pushed + 8 * _BLOCK
            end = _end_parcel(np.concatenate(raw), np.concatenate(treated), bed.cells, kind)
            stop = stop if end is None else end * beyond
    if stop == 4.0 * parcels_expected:
        raise UnfitLifeError("the column is not exhausted after four times the expected litres")
    out = np.concatenate(treated)[bed.cells :]
    fed = np.concatenate(raw)[: len(out)]
    return {"litres": per_parcel * (np.arange(len(out)) + 0.5), "raw": fed, "treated": out}


def _block(raw_at: RawAt, per_parcel: float, pushed: int) -> int:
    """Parcels that may share one raw water: one by one while the main changes fast."""
    before, after = raw_at(per_parcel * pushed), raw_at(per_parcel * (pushed + _BLOCK))
    return 1 if float(np.max(np.abs(after / before - 1))) > 0.02 else _BLOCK


def column(
    bed: Recipe, key: object, folder: Path, run: Callable[[], dict[str, np.ndarray]]
) -> Column:
    """The column of that key, from the cache or run now."""
    return Column(**cached(folder, ["column-1", repr(bed), key], run))


def _shares(bed: Recipe) -> list[float]:
    normal = NormalDist()
    quantiles = [normal.inv_cdf((i + 0.5) / bed.tubes) for i in range(bed.tubes)]
    shares = [float(np.exp(bed.unevenness * z)) for z in quantiles]
    return [share * bed.tubes / sum(shares) for share in shares]


def _end_parcel(raw: np.ndarray, treated: np.ndarray, cells: int, kind: str) -> int | None:
    """Parcel at which a fifth of what the fresh bed removes has come back, for good."""
    out = treated[cells:]
    share = hardness_dh(out, kind) / hardness_dh(raw[: len(out)], kind)
    if len(share) < 60:
        return None
    fresh = float(np.median(share[len(share) // 10 : len(share) // 2]))
    over = share > fresh + 0.3 * (1 - fresh)
    return len(share) if bool(over[-20:].all()) else None


class _Carbon:
    """Adds the total inorganic carbon to a raw water that is given by pH and alkalinity."""

    def __init__(self) -> None:
        self._engine = Engine(_PUNCH)

    def completed(self, row: np.ndarray) -> np.ndarray:
        """The row in `COLUMNS` order."""
        return np.asarray(self._engine.run(solution("1", row))[0])
