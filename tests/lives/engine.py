"""PHREEQC in process: text in, numbers out, and a disk cache for what takes long."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable
from importlib import resources
from pathlib import Path

import numpy as np
from pyEQL._phreeqc import PY_VAR_TYPE, PyIPhreeqc, PyVar


class Engine:
    """One PHREEQC instance with the phreeqc.dat data base of PHREEQC 3.8.6."""

    def __init__(self, preamble: str = "") -> None:
        self._phreeqc = PyIPhreeqc()
        folder = resources.files("pyEQL.phreeqc.database")
        self._phreeqc.load_database(str(folder / "phreeqc.dat"))
        if preamble:
            self.run(preamble)

    def run(self, text: str) -> np.ndarray:
        """The rows of numbers that USER_PUNCH gave; RuntimeError with PHREEQC's own words."""
        self._phreeqc.run_string(text)
        trouble = self._phreeqc.get_error_string()
        if trouble:
            raise RuntimeError(f"PHREEQC: {trouble.strip()[:400]}")
        return self._rows()

    def _rows(self) -> np.ndarray:
        count = self._phreeqc.get_selected_output_row_count()
        width = self._phreeqc.get_selected_output_column_count()
        rows = np.empty((max(count - 1, 0), width))
        cell = PyVar()
        for row in range(1, count):
            for column in range(width):
                self._phreeqc.get_value(row, column, cell.var)
                whole = cell.var.type == PY_VAR_TYPE.TT_LONG
                rows[row - 1, column] = cell.var.lVal if whole else cell.var.dVal
        return rows


def cached(
    folder: Path, key: object, compute: Callable[[], dict[str, np.ndarray]]
) -> dict[str, np.ndarray]:
    """What `compute` gives, kept in `folder` under the hash of `key` (anything JSON can hold)."""
    text = json.dumps(key, sort_keys=True, separators=(",", ":"))
    path = folder / f"{hashlib.sha256(text.encode()).hexdigest()[:32]}.npz"
    if path.exists():
        with np.load(path) as kept:
            return {name: kept[name] for name in kept.files}
    made = compute()
    folder.mkdir(parents=True, exist_ok=True)
    part = path.with_suffix(".part.npz")
    np.savez_compressed(part, **made)
    part.replace(path)
    return made
