"""Conductivity of compositions at several temperatures, from PHREEQC's own ion model."""

from __future__ import annotations

import numpy as np

from .engine import Engine

TEMPERATURES_C = (3.0, 13.0, 23.0, 33.0)
_PUNCH = """SELECTED_OUTPUT
 -reset false
USER_PUNCH
 -start
 10 PUNCH SC
 -end
PRINT
 -reset false
END"""
_BATCH = 50


def conductivity_table(rows: np.ndarray) -> np.ndarray:
    """uS/cm of each composition row (`COLUMNS` order) at each of `TEMPERATURES_C`.

    pH follows from the charge balance: nothing is lost to the air on the way.
    """
    engine = Engine(_PUNCH)
    found = []
    for first in range(0, len(rows), _BATCH):
        text = "".join(_solution(row) for row in rows[first : first + _BATCH])
        found.append(engine.run(text)[:, 0].reshape(-1, len(TEMPERATURES_C) + 1)[:, 1:])
    return np.concatenate(found)


def _solution(row: np.ndarray) -> str:
    ca, mg, na, k, cl, so4, c4 = (f"{max(value, 0.0):.6g}" for value in row[:7])
    warm = " ".join(f"{value:g}" for value in TEMPERATURES_C)
    return (
        f"SOLUTION 1\n units mmol/kgw\n temp 25\n pH 7 charge\n Ca {ca}\n Mg {mg}\n Na {na}\n"
        f" K {k}\n Cl {cl}\n S(6) {so4}\n C(4) {c4}\nREACTION_TEMPERATURE 1\n {warm}\nEND\n"
    )


def at_temperature(table: np.ndarray, temperature_c: np.ndarray) -> np.ndarray:
    """Conductivity of row i of `table` at temperature i: the cubic through the four knots."""
    total = np.zeros(len(table))
    for i, knot in enumerate(TEMPERATURES_C):
        weight = np.ones(len(table))
        for other in TEMPERATURES_C:
            if other != knot:
                weight *= (temperature_c - other) / (knot - other)
        total += weight * table[:, i]
    return total
