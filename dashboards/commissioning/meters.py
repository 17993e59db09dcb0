"""What the meters of a line say now, and what that comes to. Pure: rows in, figures out."""

from __future__ import annotations

import math
from typing import Final

import numpy as np

from analytics import calibration as fit
from analytics.calibration import CellFit, Figure, Jug
from analytics.chemistry.temperature import f25_where_defined
from analytics.errors import ModelError
from analytics.samples import Rows
from analytics.setup import LineSetup
from dashboards.commissioning.progress import Look, Progress
from firmware_bridge.calibration.points import UNKNOWN_DRY
from firmware_bridge.calibration.steady import LEAST_ROWS, Side, side_of

WINDOW_MS: Final = 30_000
LONG_MS: Final = 300_000
"""A node at rest says something each minute: then its last rows are looked at."""
FLOWING_MS: Final = 10_000
AGREE: Final = 0.03
"""A K-factor of full flow alone is this unsure in a thin stream."""


def side_now(rows: Rows, probe: str, now_ms: int) -> Side | None:
    """A probe over the last half minute, or over its last few rows where they are rare."""
    late = rows.pick(np.flatnonzero(rows.at_ms >= now_ms - WINDOW_MS))
    if len(late) < LEAST_ROWS:
        since = rows.pick(np.flatnonzero(rows.at_ms >= now_ms - LONG_MS))
        late = since.cut(max(len(since) - LEAST_ROWS, 0), len(since))
    return side_of(late, probe)


def look_of(side: Side) -> Look:
    """What is kept of a reading."""
    temp_c = side.temp_c if math.isfinite(side.temp_c) else None
    return Look(us_cm=side.us_cm, us_cm_sd=side.us_cm_sd, temp_c=temp_c)


def ec25_of(look: Look, page: Progress, probe: str) -> float | None:
    """Conductivity at 25 C by the probe's own gain, where it was calibrated; without a temperature
    None."""
    if look.temp_c is None:
        return None
    cell = cell_of(page, probe)
    true = look.us_cm
    if cell is not None:
        true = cell.gain.value * (look.us_cm - cell.dry_us_cm.value)
    found = true * float(f25_where_defined(look.temp_c))
    return found if math.isfinite(found) else None


def cell_of(page: Progress, probe: str) -> CellFit | None:
    """Gain and dry reading of a probe; None before it was in a standard, or where the two readings
    make no line."""
    standard = page.done.standard.get(probe)
    if standard is None:
        return None
    try:
        return fit.cell_fit((page.done.dry.get(probe, UNKNOWN_DRY), standard))
    except ModelError:
        return None


def pulses_since(rows: Rows, since_ms: int) -> int:
    """Pulses counted from an instant on."""
    counted = rows.pulses[(rows.at_ms > since_ms) & (rows.pulses > 0)]
    return int(counted.sum())


def counter_spoke(rows: Rows, since_ms: int) -> bool:
    """Whether the counter was read after an instant."""
    return bool(((rows.at_ms > since_ms) & (rows.pulses >= 0)).any())


def flow_now(rows: Rows, now_ms: int, pulses_per_l: float) -> float | None:
    """Litres a minute over the last seconds; None where nothing was read."""
    late = np.flatnonzero((rows.at_ms > now_ms - FLOWING_MS) & (rows.pulses >= 0))
    if not len(late) or not late[0]:
        return None
    spent_ms = int(rows.at_ms[late[-1]] - rows.at_ms[late[0] - 1])
    return int(rows.pulses[late].sum()) / pulses_per_l / max(spent_ms, 1) * 60_000


def k_in_use(page: Progress, line: LineSetup) -> float:
    """Pulses a litre: as measured here, else as the site file states."""
    found = k_found(page)
    return found.value if found is not None else line.pulses_per_l


def agree(jugs: tuple[Jug, ...]) -> bool:
    """Whether there are enough jugs of one flow and they agree."""
    return len(jugs) >= fit.JUGS_LEAST and fit.jugs_apart(jugs) <= fit.JUGS_APART


def k_found(page: Progress) -> Figure | None:
    """The K-factor from all jugs; None before three of full flow agree."""
    full, brew = page.done.jugs_full, page.done.jugs_brew
    if not agree(full):
        return None
    found = fit.k_factor(full)
    if agree(brew):
        return fit.k_in_use(found, fit.k_factor(brew))
    return Figure(value=found.value, sd=math.hypot(found.sd, AGREE * found.value))
