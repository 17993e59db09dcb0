"""Reference of natural water's conductivity to 25 C."""

from __future__ import annotations

import numpy as np

from analytics.samples import Floats


def natural_factor(temp_c: Floats) -> Floats:
    """Factor f25: EC25 = EC(T) * f25(T), natural waters, ISO 7888:1985 / EN 27888.

    A cubic in T - 25 fitted to the standard's table, within 0.0006 of it from 0 to 35 C. Outside
    0 to 36 C, where the standard is not defined, the answer is NaN.
    """
    d = np.asarray(temp_c, dtype=np.float64) - 25.0
    slope = 2.10639e-2 + d * (6.49464e-5 - 4.64118e-7 * d)
    factor = 1.0 / (1.0 + 1.43724e-4 + d * slope)
    return np.asarray(np.where((temp_c >= 0.0) & (temp_c <= 36.0), factor, np.nan))
