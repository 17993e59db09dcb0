"""PHREEQC 3.8.6 with phreeqc.dat of 2024-05-22, as an oracle for whole batches of waters.

The engine (IPhreeqc 3.8.6-17100, USGS, public domain) comes with pyEQL 1.7.0. Raw waters are
entered with pH and alkalinity; what a medium does is entered as a reaction, so that the engine
finds pH and alkalinity of treated water by itself.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from pyEQL.phreeqc import Phreeqc

from analytics.chemistry.water import WATER_KG_PER_L, Water
from analytics.samples import Floats

ENGINE = "PHREEQC 3.8.6, phreeqc.dat 2024-05-22"
ELEMENTS = {
    "ca_mmol_l": "Ca",
    "mg_mmol_l": "Mg",
    "na_mmol_l": "Na",
    "k_mmol_l": "K",
    "cl_mmol_l": "Cl",
    "so4_mmol_l": "S(6)",
    "no3_mmol_l": "N(5)",
    "alkalinity_meq_l": "Alkalinity",
}
PUNCH = """SELECTED_OUTPUT 1
 -reset false
 -high_precision true
USER_PUNCH 1
 -headings tc pH si sc alk ca dic
 10 PUNCH TC, -LA("H+"), SI("Calcite"), SC, ALK, TOT("Ca"), TOT("C(4)")
END
"""


@dataclass(frozen=True)
class Found:
    """What the engine says: EC in uS/cm at the temperature asked for, alkalinity and carbon per
    kg of water."""

    temp_c: Floats
    ph: Floats
    si: Floats
    ec_us_cm: Floats
    alkalinity_meq_kgw: Floats
    ca_mmol_kgw: Floats
    dic_mmol_kgw: Floats


def run(text: str, database: str = "phreeqc.dat") -> Found:
    """Run PHREEQC input and read one result for each state it passes."""
    engine = Phreeqc(database)
    engine.run_string(PUNCH + text)
    rows = np.array([list(row) for row in engine.output[:]][1:], dtype=np.float64)
    return Found(
        temp_c=rows[:, 0],
        ph=rows[:, 1],
        si=rows[:, 2],
        ec_us_cm=rows[:, 3],
        alkalinity_meq_kgw=rows[:, 4] * 1000,
        ca_mmol_kgw=rows[:, 5] * 1000,
        dic_mmol_kgw=rows[:, 6] * 1000,
    )


def solution(number: int, source: Water, ph: float, temp_c: float = 25.0) -> str:
    """Input text of one water with its pH at `temp_c`."""
    lines = [f"SOLUTION {number}", f" temp {temp_c}", " units mmol/kgw", f" pH {ph}"]
    for field, element in ELEMENTS.items():
        lines.append(f" {element} {float(getattr(source, field)) / WATER_KG_PER_L:.12g}")
    return "\n".join(lines) + "\n"


def reaction(number: int, salts: dict[str, float], temp_c: float = 25.0) -> str:
    """Input text that adds (or takes) salts, mmol per kg of water, to a solution."""
    steps = "".join(f" {salt} {amount:.12g}\n" for salt, amount in salts.items())
    warm = f"REACTION_TEMPERATURE 1\n {temp_c}\n"
    return f"USE SOLUTION {number}\nREACTION 1\n{steps} 1 mmol\n{warm}END\n"


def raw(waters: Sequence[Water], ph: Sequence[float]) -> Found:
    """Raw waters at 25 C."""
    parts = [solution(i, w, p) for i, (w, p) in enumerate(zip(waters, ph, strict=True))]
    return run("".join(parts) + "END\n")


def treated(
    waters: Sequence[Water], ph: Sequence[float], salts: Sequence[dict[str, float]]
) -> Found:
    """Waters after a reaction each, mmol of salt per kg of water, at 25 C."""
    text = "".join(
        solution(i, w, p) + "END\n" + reaction(i, s)
        for i, (w, p, s) in enumerate(zip(waters, ph, salts, strict=True))
    )
    found = run(text)
    return Found(**{name: value[1::2] for name, value in vars(found).items()})
