"""A reading that stands, and what is true there, as a point of a calibration; a jug out of its
rows. Pure."""

from __future__ import annotations

import math
from typing import Final

import numpy as np

from analytics.calibration import LABEL_SD, THERMOMETER_SD_C, Jug, ProbePoint
from analytics.chemistry.kcl import standard_us_cm
from analytics.samples import Rows
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


def jug_of(rows: Rows, begun_ms: int, litres: float) -> Jug | None:
    """The jug that these rows filled; None where no pulse came."""
    flowing = np.flatnonzero(rows.pulses > 0)
    pulses = int(rows.pulses[flowing].sum())
    if not pulses:
        return None
    first_ms = int(rows.at_ms[flowing[0] - 1]) if flowing[0] else begun_ms
    seconds = max((int(rows.at_ms[flowing[-1]]) - first_ms) / 1000.0, 1.0)
    apart_s = seconds / len(flowing) / math.sqrt(6.0)
    return Jug(pulses=pulses, litres=litres, seconds=seconds, seconds_sd=max(apart_s, 0.5))


def without_worst(jugs: tuple[Jug, ...]) -> tuple[Jug, ...]:
    """The jugs but for the one furthest from their middle."""
    middle = float(np.median([jug.pulses_per_l for jug in jugs]))
    worst = max(jugs, key=lambda jug: abs(jug.pulses_per_l - middle))
    return tuple(jug for jug in jugs if jug is not worst)
