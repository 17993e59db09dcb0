"""What the boilers make of a water: calcite above saturation and how much of it can drop."""

from __future__ import annotations

import numpy as np

from analytics.chemistry.masses import CACO3
from analytics.chemistry.saturation import Boiler, ccpp_mmol_l, inside, si
from analytics.chemistry.water import Water, changed
from analytics.samples import Floats

TRACE_MMOL_L = 1e-6
"""Calcium behind a softener that lets nothing through, so that an index exists."""


def boiler_si(source: Water, boiler: Boiler) -> Floats:
    """Saturation index of calcite in the boiler."""
    return si(inside(_some_calcium(source), boiler), boiler.temp_c)


def dropped_mg_l(source: Water, boiler: Boiler) -> Floats:
    """Lime that a litre of feed can leave in the boiler, mg as CaCO3; never negative."""
    found = ccpp_mmol_l(inside(_some_calcium(source), boiler), boiler.temp_c)
    return np.maximum(found, 0.0) * CACO3 / boiler.concentration


def _some_calcium(source: Water) -> Water:
    return changed(source, ca_mmol_l=np.maximum(source.ca_mmol_l, TRACE_MMOL_L))
