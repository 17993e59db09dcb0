"""Fourteen invented raw waters from soft moorland to hard gypsum, for the media's contrast table.

Two of them hold more alkalinity than hardness.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analytics.chemistry.water import Water, balanced, water
from analytics.samples import Floats

_ROWS = (
    # ca, mg, na, k, cl, so4, no3, alkalinity
    (0.35, 0.15, 0.5, 0.03, 0.5, 0.20, 0.05, 0.6),
    (0.60, 0.20, 0.7, 0.05, 0.6, 0.30, 0.10, 1.0),
    (0.90, 0.15, 0.9, 0.05, 1.0, 0.50, 0.10, 1.2),
    (1.25, 0.40, 0.6, 0.05, 0.75, 0.35, 0.00, 2.5),
    (1.40, 1.50, 0.7, 0.05, 0.6, 0.50, 0.30, 4.6),
    (1.80, 0.50, 1.2, 0.10, 1.2, 0.50, 0.30, 3.4),
    (2.00, 0.60, 0.9, 0.10, 0.9, 0.60, 0.20, 3.8),
    (2.20, 0.80, 2.0, 0.10, 2.0, 1.20, 0.30, 3.1),
    (2.75, 0.20, 0.6, 0.10, 0.8, 0.30, 0.40, 4.8),
    (3.00, 1.20, 1.5, 0.10, 1.6, 2.60, 0.00, 3.2),
    (3.70, 0.45, 0.8, 0.10, 0.7, 0.60, 0.30, 7.1),
    (1.65, 1.30, 0.8, 0.10, 0.7, 0.30, 0.10, 5.3),
    (0.95, 0.30, 3.0, 0.05, 0.9, 0.40, 0.10, 3.8),
    (1.30, 0.50, 3.6, 0.10, 1.5, 0.60, 0.10, 4.7),
)
COUNT = len(_ROWS)


def fourteen() -> Water:
    """All of them as one row of waters, charges closed, pH about 7.4."""
    columns: Floats = np.array(_ROWS).T
    names = ("ca", "mg", "na", "k", "cl", "so4", "no3", "alkalinity")
    given = dict(zip(names, columns, strict=True))
    return balanced(water(**given, dic=1.08 * given["alkalinity"]))


def alkaline() -> NDArray[np.bool_]:
    """Which of them hold more alkalinity than hardness."""
    waters = fourteen()
    return np.asarray(waters.alkalinity_meq_l > 2.0 * (waters.ca_mmol_l + waters.mg_mmol_l))
