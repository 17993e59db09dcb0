"""When the logger writes a row and what its counters say then."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from .cafe import Draws, Flow

HEARTBEAT_S = 60.0
STEP_S = 10.0


class PulseFault(NamedTuple):
    """Between two moments (s) the meter gives `share` of its pulses: 0 stuck, 2 doubled."""

    start_s: float
    end_s: float
    share: float


def row_times(draws: Draws, end_s: float, outages: list[tuple[float, float]]) -> np.ndarray:
    """Whole seconds of the rows: heartbeats, start and end of draws, each 10 s of flow."""
    kept = draws.start_s < end_s
    start, length = draws.start_s[kept], draws.length_s[kept]
    short = length < 600
    times = [np.arange(0.0, end_s + 1, HEARTBEAT_S), start[short], (start + length)[short]]
    times += [(start + STEP_S * i)[short & (length > STEP_S * i + 2)] for i in range(1, 12)]
    rows = np.unique(np.round(np.concatenate(times)))
    rows = rows[(rows >= 0) & (rows <= end_s)]
    for first, last in outages:
        rows = rows[(rows < first) | (rows > last)]
    return rows


def pulses(
    rows_s: np.ndarray,
    flow: Flow,
    per_litre: float,
    faults: list[PulseFault],
    outages: list[tuple[float, float]],
) -> np.ndarray:
    """Whole pulses since the previous row; those of an outage are lost with it."""
    edges = sorted({edge for fault in faults for edge in (fault.start_s, fault.end_s)})
    knots = np.unique(np.concatenate([rows_s, edges])) if edges else rows_s
    passed = np.diff(flow.litres(knots), prepend=0.0)
    middle = knots - np.diff(knots, prepend=0.0) / 2
    share = np.ones(len(knots))
    for fault in faults:
        share[(middle > fault.start_s) & (middle < fault.end_s)] = fault.share
    counted = np.cumsum(passed * share) * per_litre
    total = np.floor(np.interp(rows_s, knots, counted) + 1e-9)
    each = np.diff(total, prepend=0.0)
    for first, last in outages:
        after = int(np.searchsorted(rows_s, last))
        if 0 < after < len(rows_s) and rows_s[after - 1] <= first:
            each[after] = 0.0
    return each.astype(np.int64)
