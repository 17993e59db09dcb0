"""The standard normal distribution, for arrays, without a statistics library."""

from __future__ import annotations

import math

import numpy as np

from analytics.samples import Floats


def normal_cdf(z: Floats) -> Floats:
    """Standard normal distribution function by Abramowitz & Stegun 26.2.17 (error < 7.5e-8)."""
    t = 1.0 / (1.0 + 0.2316419 * np.abs(z))
    poly = 1.781477937 + t * (-1.821255978 + t * 1.330274429)
    poly = t * (0.319381530 + t * (-0.356563782 + t * poly))
    tail = np.exp(-0.5 * z**2) / math.sqrt(2.0 * math.pi) * poly
    return np.asarray(np.where(z >= 0, 1.0 - tail, tail))
