"""Membrane (reverse osmosis) with a remineraliser behind it.

The membrane holds back 90-98 % of each ion and lets CO2 pass. The remineraliser, a bed of calcite,
dissolves as much as that CO2 allows; as it shrinks, outlet hardness and conductivity fall, which
is its end. The membrane's own health is the ratio of permeate to raw conductivity.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from analytics.chemistry.carbonate import co2_mmol_l, ph
from analytics.chemistry.conductivity import ec25_us_cm
from analytics.chemistry.water import Water, balanced, changed, stacked, unstacked, water
from analytics.medium import (
    ALWAYS,
    Caution,
    Contrast,
    EndsBy,
    Medium,
    Sharpener,
    acid,
    as_columns,
)
from analytics.samples import Floats

PASSES: Final = {"ca": 0.02, "mg": 0.02, "na": 0.06, "k": 0.06, "cl": 0.05, "so4": 0.02}
"""Share of each ion that passes a membrane in good health at mains pressure (common practice, no
source); nitrate 0.1, alkalinity 0.06."""
NITRATE_PASSES: Final = 0.10
ALKALINITY_PASSES: Final = 0.06
WITHOUT_CO2_MMOL_L: Final = 0.12
"""Calcite that pure water dissolves without CO2, 25 C, closed (from memory)."""
DEPTHS: Final = 5.0
"""Contact of a new calcite bed, in e-foldings of the approach to saturation (no source)."""
GONE_AT_END: Final = 0.683
"""Share of the calcite gone when its effect has fallen to four fifths: 1 - e^(-5 x 0.317) = 0.8."""


class RemineralisedMembrane(Medium, frozen=True, kw_only=True):
    """A membrane and a calcite bed; `used` is the share of the calcite's life."""

    minerals_mmol_l: float = 0.6
    """Calcite put back at most: by how the bypass round the calcite bed is set."""

    def permeate(self, raw: Water) -> Water:
        """Water between membrane and remineraliser."""
        even = balanced(raw)
        passed = {ion: share * getattr(even, f"{ion}_mmol_l") for ion, share in PASSES.items()}
        alkalinity = ALKALINITY_PASSES * np.maximum(even.alkalinity_meq_l, 0.0)
        return balanced(
            water(
                **passed,
                no3=NITRATE_PASSES * even.no3_mmol_l,
                alkalinity=alkalinity,
                dic=co2_mmol_l(even) + alkalinity,
            )
        )

    def treated(self, raw: Water, used: float | Floats = 0.0) -> Water:
        """Water behind the remineraliser."""
        permeate = as_columns(self.permeate(raw), np.shape(used))
        most = np.minimum(self.minerals_mmol_l, co2_mmol_l(permeate) + WITHOUT_CO2_MMOL_L)
        added = most * _contact(np.asarray(used, dtype=np.float64))
        return changed(
            permeate,
            ca_mmol_l=permeate.ca_mmol_l + added,
            alkalinity_meq_l=permeate.alkalinity_meq_l + 2.0 * added,
            dic_mmol_l=permeate.dic_mmol_l + added,
        )

    def contrast(self, raw: Water) -> Contrast:
        """Conductivity behind the remineraliser; the changes along its life are falls."""
        rows = stacked(self.treated(raw, np.array([0.0, 0.9, 1.0])))
        fresh, tenth, end = 100.0 * ec25_us_cm(unstacked(rows)) / ec25_us_cm(balanced(raw))
        return Contrast(
            fresh_pct=float(fresh) - 100.0,
            rise_at_tenth_pct=float(tenth - fresh),
            rise_at_end_pct=float(end - fresh),
        )

    def cautions(self, raw: Water) -> tuple[Caution, ...]:
        """What to know before using a membrane with this (single) water."""
        permeate = self.permeate(raw)
        share = float(ec25_us_cm(permeate) / ec25_us_cm(balanced(raw)))
        watch = Caution(code="permeate", values={"passed_share": share})
        spent = self.treated(raw, 1.45)
        sour = acid(float(ph(spent)), float(spent.alkalinity_meq_l), "spent")
        return (watch, *sour, *self.standing)


def _contact(used: Floats) -> Floats:
    """Effect of the calcite bed over that of a new one; 0.8 at the end of its life."""
    left = np.clip(1.0 - GONE_AT_END * used, 0.0, 1.0)
    result: Floats = (1.0 - np.exp(-DEPTHS * left)) / (1.0 - np.exp(-DEPTHS))
    return result


MEDIUM = RemineralisedMembrane(
    name="membrane",
    ends_by=EndsBy.MINERALS_FALL,
    sharpened_by=Sharpener.TOTAL,
    standing=ALWAYS,
)
