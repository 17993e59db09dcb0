"""A reading that stands, and what is true there, as a point of a calibration. Pure."""

from __future__ import annotations

import math
from typing import Final

from analytics.calibration import LABEL_SD, THERMOMETER_SD_C, ProbePoint
from analytics.chemistry.kcl import standard_us_cm
from firmware_bridge.calibration.steady import Side

DRY_SD: Final = 0.2
"""How far from 0 a dry cell truly is, uS/cm: a film of water (common practice, no source)."""
UNKNOWN_DRY: Final = ProbePoint(read_us_cm=0.0, read_sd=1.0, true_us_cm=0.0, true_sd=DRY_SD)
"""A probe that nobody has read dry."""


def dry_point(side: Side) -> ProbePoint:
    """A probe in air."""
    return ProbePoint(
        read_us_cm=side.us_cm, read_sd=max(side.us_cm_sd, 0.05), true_us_cm=0.0, true_sd=DRY_SD
    )


def standard_point(side: Side, label: float, temp_c: float) -> ProbePoint:
    """The standard's conductivity at its temperature, with label's and thermometer's errors."""
    true = float(standard_us_cm(label, temp_c))
    nearby = min(max(temp_c, 0.5), 49.5)
    a_kelvin = float(standard_us_cm(label, nearby + 0.5) - standard_us_cm(label, nearby - 0.5))
    sd = math.hypot(LABEL_SD * true, THERMOMETER_SD_C * a_kelvin)
    return ProbePoint(
        read_us_cm=side.us_cm,
        read_sd=max(side.us_cm_sd, 0.0005 * side.us_cm),
        true_us_cm=true,
        true_sd=sd,
    )
