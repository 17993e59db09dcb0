"""Twelve real groundwaters with their measured conductivity at 20 C.

Stuyfzand, P.J. (1987), Table 3.1, as in the data object of the R package groundwaterconductivity
(MIT licence). Ions in mg/L, rounded as printed there; ammonium counts as potassium, whose
conductivity it shares. pH 7.00 often stands for "not measured".
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from analytics.chemistry.carbonate import with_ph
from analytics.chemistry.conductivity import ec_at_us_cm
from analytics.chemistry.water import Water, changed, from_mg_l
from tests.check_values.checks import Check, Kind

SOURCE = "Stuyfzand 1987, table 3.1, measured"
NH4_G_MOL = 18.039
IONS = ("cl", "hco3", "so4", "no3", "ph", "na", "k", "ca", "mg", "nh4", "ec20")
ANALYSES = {
    2: (32, 171, 0, 0.1, 7.91, 23, 10.9, 14, 21, 0.4, 326),
    4: (17.7, 55, 38.4, 0, 7.00, 16.1, 3.9, 20, 4.9, 0, 212),
    8: (16.3, 113, 21, 24.8, 7.57, 6, 0.66, 53.3, 3, 0.1, 282),
    9: (33, 307, 1, 0.1, 7.34, 20, 6.3, 79, 7.9, 2.3, 486),
    10: (196, 716, 6, 0, 7.77, 350, 7.4, 29, 10, 3, 1445),
    11: (39, 101, 116, 0.6, 7.00, 23, 2.8, 58, 13, 0, 458),
    13: (113, 32, 62, 0, 6.20, 62, 3.7, 29, 9.1, 0.4, 505),
    14: (476, 226, 17, 0, 8.00, 165, 22.8, 112, 52, 1.4, 1660),
    15: (42, 185, 63, 69.5, 7.57, 26, 1.9, 101, 5, 0.1, 585),
    16: (34, 352, 140, 372, 7.04, 19, 0.3, 285, 4.1, 0.1, 1248),
    17: (128, 201, 48, 0, 7.00, 161, 0, 18, 0, 0, 735),
    18: (206, 212, 100, 0, 7.53, 103, 2.4, 121, 4.7, 0.3, 1021),
}
LOOSE = {10: 0.12, 11: 0.12, 14: 0.12, 16: 0.16}
USUAL = 0.10
BIAS = 0.09


def analysis(number: int) -> Water:
    """One water with its inorganic carbon."""
    row = dict(zip(IONS, ANALYSES[number], strict=True))
    ph, ammonium = row.pop("ph"), row.pop("nh4") / NH4_G_MOL
    row.pop("ec20")
    made = from_mg_l(row)
    return with_ph(changed(made, k_mmol_l=made.k_mmol_l + ammonium), ph, 20.0)


def error(number: int) -> float:
    """Relative error of EC at 20 C from ions."""
    return float(ec_at_us_cm(analysis(number), 20.0)) / ANALYSES[number][-1] - 1


def rows() -> Iterator[Check]:
    """Each water, and the bias over all."""
    for number, row in ANALYSES.items():
        yield Check(
            group="real groundwaters, EC at 20 C",
            what=f"Stuyfzand no. {number}, uS/cm",
            expected=row[-1],
            ours=lambda n=number: row_ec(n),
            tolerance=LOOSE.get(number, USUAL),
            relative=True,
            source=SOURCE,
            kind=Kind.PUBLISHED,
        )
    yield Check(
        group="real groundwaters, mean error",
        what="bias over 12 waters, %",
        expected=0.0,
        ours=lambda: 100 * float(np.mean([error(n) for n in ANALYSES])),
        tolerance=100 * BIAS,
        source=SOURCE,
        kind=Kind.PUBLISHED,
    )


def row_ec(number: int) -> float:
    """EC at 20 C from ions."""
    return float(ec_at_us_cm(analysis(number), 20.0))
