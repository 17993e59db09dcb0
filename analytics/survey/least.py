"""The least conductivity that some of a water's ions alone bring along."""

from __future__ import annotations

from typing import Final

import numpy as np

from analytics.chemistry.conductivity import ec25_us_cm
from analytics.chemistry.water import Water, water
from analytics.samples import Floats

MODEL_READS_HIGH: Final = 1.05
"""EC25 from ions over EC25 measured, Stuyfzand 1987, twelve analyses: 1.04 to 1.06."""
MODEL_SD: Final = 0.03


def leanest(hardness_mmol_l: Floats, alkalinity_meq_l: Floats, chloride_mmol_l: Floats) -> Water:
    """The water with no more ions than these need: sodium only where anions lead, and the rest of
    hardness as sulphate, which carries least because it pairs."""
    hardness, alkalinity, chloride = np.broadcast_arrays(
        np.asarray(hardness_mmol_l, dtype=np.float64), alkalinity_meq_l, chloride_mmol_l
    )
    surplus = 2 * hardness - alkalinity - chloride
    return water(
        ca=hardness,
        na=np.maximum(-surplus, 0.0),
        cl=chloride,
        so4=np.maximum(surplus, 0.0) / 2,
        alkalinity=alkalinity,
        dic=alkalinity * 1.05 + 0.01,
    )


def least_ec25_us_cm(
    hardness_mmol_l: float = 0.0, alkalinity_meq_l: float = 0.0, chloride_mmol_l: float = 0.0
) -> float:
    """Measured EC25 below which a water with so much of these cannot lie."""
    amounts = (max(v, 1e-3) for v in (hardness_mmol_l, alkalinity_meq_l, chloride_mmol_l))
    return float(ec25_us_cm(leanest(*(np.asarray(v) for v in amounts)))) / MODEL_READS_HIGH
