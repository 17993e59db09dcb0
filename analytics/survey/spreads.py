"""A row of plausible values as one figure with its doubt."""

from __future__ import annotations

import numpy as np

from analytics.samples import Floats, Spread


def spread_of(values: Floats) -> Spread:
    """Median, 5 and 95 % points."""
    low, middle, high = np.percentile(values, (5, 50, 95)).tolist()
    return Spread(p05=low, p50=middle, p95=high)
