"""Scale over the plane of hardness and alkalinity: where flecks of lime are drawn."""

from __future__ import annotations

from typing import Final

import msgspec
import numpy as np

from analytics.chemistry.carbonate import co2_mmol_l
from analytics.chemistry.water import Water, balanced, water
from analytics.samples import Floats
from analytics.survey.scale import boiler_si
from analytics.survey.site import Site

ACROSS: Final = 9
LEAST: Final = 0.02


class ScalePlane(msgspec.Struct, frozen=True, kw_only=True):
    """Saturation index on a coarse grid: `index[i][j]` at alkalinity i and hardness j.

    The waters have the calcium share and the free carbon dioxide of `like`. The boiler is the brew
    boiler, or the steam boiler where there is no other.
    """

    temp_c: float
    hardness_mmol_l: tuple[float, ...]
    alkalinity_meq_l: tuple[float, ...]
    index: tuple[tuple[float, ...], ...]

    def at(self, hardness_mmol_l: Floats, alkalinity_meq_l: Floats) -> Floats:
        """Index between the grid's points, bilinear."""
        across = _place(hardness_mmol_l, self.hardness_mmol_l)
        up = _place(alkalinity_meq_l, self.alkalinity_meq_l)
        values = np.array(self.index)
        i, j = np.minimum(up.astype(int), ACROSS - 2), np.minimum(across.astype(int), ACROSS - 2)
        u, v = up - i, across - j
        low = (1 - v) * values[i, j] + v * values[i, j + 1]
        high = (1 - v) * values[i + 1, j] + v * values[i + 1, j + 1]
        found: Floats = (1 - u) * low + u * high
        return found


def _place(values: Floats, axis: tuple[float, ...]) -> Floats:
    found: Floats = np.interp(values, axis, np.arange(float(len(axis))))
    return found


def scale_plane(
    like: Water, site: Site, most_hardness_mmol_l: float, most_alkalinity_meq_l: float
) -> ScalePlane:
    """The index over a plane from 0 to these ends, for waters like this (single) one."""
    boiler = site.brew_boiler if site.brews else site.steam_boiler
    hard = np.linspace(0.0, most_hardness_mmol_l, ACROSS)
    alk = np.linspace(0.0, most_alkalinity_meq_l, ACROSS)
    across, up = np.meshgrid(np.maximum(hard, LEAST), np.maximum(alk, LEAST))
    whole = max(float(like.ca_mmol_l + like.mg_mmol_l), 1e-6)
    share = float(like.ca_mmol_l) / whole
    free = max(float(co2_mmol_l(like)), 1e-3)
    waters = balanced(
        water(
            ca=across * max(share, 0.02),
            mg=across * (1 - max(share, 0.02)),
            na=np.full(across.shape, float(like.na_mmol_l)),
            alkalinity=up,
            dic=up + free,
        )
    )
    found = boiler_si(waters, boiler)
    return ScalePlane(
        temp_c=boiler.temp_c,
        hardness_mmol_l=tuple(hard.tolist()),
        alkalinity_meq_l=tuple(alk.tolist()),
        index=tuple(tuple(row) for row in found.tolist()),
    )
