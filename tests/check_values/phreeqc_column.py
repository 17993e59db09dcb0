"""PHREEQC 3.8.6 ADVECTION columns with phreeqc.dat, as an oracle for our own column.

A weak-acid exchanger is entered as a second kind of site, Y-, that binds Ca, Mg, Na and K with
the constants phreeqc.dat gives for X-, and hydrogen with the constant asked for.
"""

from __future__ import annotations

import numpy as np
from pyEQL.phreeqc import Phreeqc

from analytics.chemistry.water import WATER_KG_PER_L, Water
from analytics.column.exchanger import Exchanger
from analytics.samples import Floats
from tests.check_values.phreeqc import ELEMENTS

WEAK = """EXCHANGE_MASTER_SPECIES
 Y Y-
EXCHANGE_SPECIES
 Y- = Y-
 log_k 0
 Na+ + Y- = NaY
 log_k 0
 -gamma 4.08 0.082
 K+ + Y- = KY
 log_k 0.7
 -gamma 3.5 0.015
 Ca+2 + 2Y- = CaY2
 log_k {ca}
 -gamma 5 0.165
 Mg+2 + 2Y- = MgY2
 log_k {mg}
 -gamma 5.5 0.2
 H+ + Y- = HY
 log_k {h}
 -gamma 9 0
"""
PUNCH = """SELECTED_OUTPUT 1
 -reset false
 -high_precision true
USER_PUNCH 1
 -headings ca mg na k alk sc ph
 10 PUNCH TOT("Ca"), TOT("Mg"), TOT("Na"), TOT("K"), ALK, SC, -LA("H+")
END
"""


def solution(number: str, source: Water, ph: float) -> str:
    """A water by its ions and inorganic carbon, charges closed by pH."""
    lines = [f"SOLUTION {number}", " units mmol/kgw", f" pH {ph} charge"]
    for field, element in ELEMENTS.items():
        amount = float(getattr(source, field)) / WATER_KG_PER_L
        if element != "Alkalinity" and amount > 0:
            lines.append(f" {element} {amount:.12g}")
    lines.append(f" C(4) {float(source.dic_mmol_l) / WATER_KG_PER_L:.12g}")
    return "\n".join(lines) + "\n"


def _beads(exchanger: Exchanger, sites_meq: float, cells: int) -> str:
    """Exchange block: mmol of each form in a slice, per kg of pore water."""
    x = "X" if exchanger.log_k_h is None else "Y"
    rest = 1.0 - exchanger.start_ca - exchanger.start_mg
    forms = {
        f"Ca{x}2": exchanger.start_ca / 2,
        f"Mg{x}2": exchanger.start_mg / 2,
        ("NaX" if x == "X" else "HY"): rest,
    }
    lines = [f" {form} {share * sites_meq / 1e3:.12g}" for form, share in forms.items() if share]
    return f"EXCHANGE 1-{cells}\n" + "\n".join(lines) + "\n"


def column(
    exchanger: Exchanger,
    raw: Water,
    pores: Water,
    *,
    sites_meq_l: float,
    cells: int,
    shifts: int,
    ph: float,
) -> Floats:
    """Effluent of each shift: Ca, Mg, Na, K (mmol/L), alkalinity (meq/L), EC25 (uS/cm), pH."""
    weak = ""
    if exchanger.log_k_h is not None:
        weak = WEAK.format(ca=exchanger.log_k_ca, mg=exchanger.log_k_mg, h=exchanger.log_k_h)
    text = (
        solution("0", raw, ph)
        + solution(f"1-{cells}", pores, 6.0 if weak else ph)
        + _beads(exchanger, sites_meq_l / WATER_KG_PER_L, cells)
        + "END\n"
        + PUNCH
        + f"ADVECTION\n -cells {cells}\n -shifts {shifts}\n -punch_cells {cells}\nEND\n"
    )
    engine = Phreeqc("phreeqc.dat")
    engine.run_string(weak + text)
    rows = np.array([list(row) for row in engine.output[:]][1:], dtype=np.float64)
    rows = rows[-shifts:]
    rows[:, :5] *= 1e3 * WATER_KG_PER_L
    return rows
