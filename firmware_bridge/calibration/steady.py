"""When a reading stands: its mean, its scatter, whether it still moves. Pure."""

from __future__ import annotations

import math
from typing import Final

import msgspec
import numpy as np

from analytics.samples import Flag, Floats, Rows

LEAST_ROWS: Final = 4
STILL: Final = 0.003
"""A reading that moves less than this from the first half to the second stands (relative)."""
STILL_US_CM: Final = 0.5
STILL_C: Final = 0.3


class Side(msgspec.Struct, frozen=True, kw_only=True):
    """One probe over a while: means, standard error, how far it moved, whether it is doubted."""

    us_cm: float
    us_cm_sd: float
    temp_c: float
    moved_us_cm: float
    moved_c: float
    rows: int
    doubted: int

    @property
    def stands(self) -> bool:
        """Whether it has settled."""
        moved = abs(self.moved_us_cm) <= max(STILL * abs(self.us_cm), STILL_US_CM)
        calm = not math.isfinite(self.moved_c) or abs(self.moved_c) <= STILL_C
        return self.rows >= LEAST_ROWS and moved and calm


def side_of(rows: Rows, side: str) -> Side | None:
    """What the outlet's or the inlet's probe says over these rows; None where it says nothing."""
    ec = np.asarray(getattr(rows, f"{side}_us_cm"))
    temp = np.asarray(getattr(rows, f"{side}_temp_c"))
    known = np.isfinite(ec)
    if not known.any():
        return None
    suspect = Flag.OUTLET_SUSPECT if side == "outlet" else Flag.INLET_SUSPECT
    ec, temp, flags = ec[known], temp[known], rows.flags[known]
    n = len(ec)
    return Side(
        us_cm=float(ec.mean()),
        us_cm_sd=float(ec.std(ddof=1)) / math.sqrt(n) if n > 1 else 0.01 * float(abs(ec[0])),
        temp_c=_mean(temp),
        moved_us_cm=_mean(ec[n // 2 :]) - _mean(ec[: n // 2]) if n > 1 else math.inf,
        moved_c=_mean(temp[n // 2 :]) - _mean(temp[: n // 2]) if n > 1 else math.inf,
        rows=n,
        doubted=int(((flags & int(suspect)) != 0).sum()),
    )


def _mean(values: Floats) -> float:
    known = values[np.isfinite(values)]
    return float(known.mean()) if len(known) else math.nan
