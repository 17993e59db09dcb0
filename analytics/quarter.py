"""A quarter of an hour of a line in whole numbers and extremes: what alarms about meters and flow
look at. Counts and extremes are the same however the rows are cut into blocks.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import pairwise

import msgspec
import numpy as np

from analytics.diagnosis.tally import NOTHING, Tally
from analytics.diagnosis.tally import with_draw as tallied_draw
from analytics.diagnosis.tally import with_rows as tallied_rows
from analytics.samples import MINUTE_MS, NO_COUNT, Draws, Flag, Floats, Rows

QUARTER_MS = 15 * MINUTE_MS
DRY_US_CM = 15.0
"""Readings below this are of air (common practice, no source)."""
SHORT_US_CM = 20_000.0
"""No tap water conducts so well: the cell is shorted (common practice, no source)."""
POSSIBLE_C = (-5.0, 95.0)
"""Outside this a temperature is a broken sensor."""
SHORTEST_DRAW_MS = 5_000
"""A draw shorter than this has no flow rate worth a word."""
SWAPPED = 1.05
"""Outlet over inlet conductivity from which on the outlet is the higher for sure."""


class ProbeCount(msgspec.Struct, frozen=True, kw_only=True):
    """Rows of one probe: with a reading, dry, shorted, without a possible temperature, doubted by
    the device; lowest and highest reading while water flowed, and how many those were."""

    there: int = 0
    dry: int = 0
    short: int = 0
    no_temp: int = 0
    suspect: int = 0
    flowing: int = 0
    low: float = math.inf
    high: float = -math.inf


class Quarter(msgspec.Struct, frozen=True, kw_only=True):
    """One quarter of an hour. `counted` are rows with a flow count, `fastest` the highest mean flow
    of a draw in pulses a minute, `coldest_c` the lowest temperature of a draw after its purge;
    `pairs` are draws both probes saw, `swapped` those where the outlet conducts the better;
    `tally` is what a diagnosis counts."""

    rows: int = 0
    counted: int = 0
    pulses: int = 0
    first_flow_ms: int = 0
    last_flow_ms: int = 0
    flow_suspect: int = 0
    resets: int = 0
    outlet: ProbeCount = ProbeCount()
    inlet: ProbeCount = ProbeCount()
    fastest: float = 0.0
    coldest_c: float = math.inf
    pairs: int = 0
    swapped: int = 0
    tally: Tally = NOTHING


NO_ROWS = Quarter()


def quarter_of(at_ms: int) -> int:
    """The end of the quarter an instant belongs to; its own end belongs to it."""
    return -(-at_ms // QUARTER_MS) * QUARTER_MS


def with_rows(quarters: dict[int, Quarter], rows: Rows) -> dict[int, Quarter]:
    """The running quarters with these rows counted in, by their ends."""
    after = dict(quarters)
    for end, piece in _by_quarter(rows):
        after[end] = _add_rows(after.get(end, NO_ROWS), piece)
    return after


def with_draws(quarters: dict[int, Quarter], draws: Draws) -> dict[int, Quarter]:
    """The running quarters with draws that ended in them."""
    after = dict(quarters)
    for place in range(len(draws)):
        end = quarter_of(int(draws.end_ms[place]))
        after[end] = _add_draw(after.get(end, NO_ROWS), draws, place)
    return after


def _by_quarter(rows: Rows) -> Iterator[tuple[int, Rows]]:
    if not len(rows):
        return
    ends = -(-rows.at_ms // QUARTER_MS)
    cuts = [0, *(np.flatnonzero(np.diff(ends)) + 1).tolist(), len(rows)]
    for start, stop in pairwise(cuts):
        yield int(ends[start]) * QUARTER_MS, rows.cut(start, stop)


def _add_rows(so_far: Quarter, rows: Rows) -> Quarter:
    flowing = rows.pulses > 0
    at = rows.at_ms[flowing]
    return msgspec.structs.replace(
        so_far,
        rows=so_far.rows + len(rows),
        counted=so_far.counted + int(np.count_nonzero(rows.pulses != NO_COUNT)),
        pulses=so_far.pulses + int(rows.pulses[flowing].sum()),
        first_flow_ms=so_far.first_flow_ms or (int(at[0]) if len(at) else 0),
        last_flow_ms=int(at[-1]) if len(at) else so_far.last_flow_ms,
        flow_suspect=so_far.flow_suspect + _flagged(rows, Flag.FLOW_SUSPECT),
        resets=so_far.resets + _flagged(rows, Flag.COUNTER_RESET),
        outlet=_add_probe(so_far.outlet, rows.outlet_us_cm, rows.outlet_temp_c, flowing,
                          _flagged(rows, Flag.OUTLET_SUSPECT)),
        inlet=_add_probe(so_far.inlet, rows.inlet_us_cm, rows.inlet_temp_c, flowing,
                         _flagged(rows, Flag.INLET_SUSPECT)),
        tally=tallied_rows(so_far.tally, rows),
    )  # fmt: skip


def _flagged(rows: Rows, flag: Flag) -> int:
    return int(np.count_nonzero(rows.flags & int(flag)))


def _add_probe(
    so_far: ProbeCount, ec: Floats, temp: Floats, flowing: np.ndarray, suspect: int
) -> ProbeCount:
    read = np.isfinite(ec)
    there = int(np.count_nonzero(read))
    moving = ec[flowing & read]
    warm = (temp >= POSSIBLE_C[0]) & (temp <= POSSIBLE_C[1])
    return ProbeCount(
        there=so_far.there + there,
        dry=so_far.dry + int(np.count_nonzero(ec < DRY_US_CM)),
        short=so_far.short + int(np.count_nonzero(ec > SHORT_US_CM)),
        no_temp=so_far.no_temp + len(temp) - int(np.count_nonzero(warm)),
        suspect=so_far.suspect + suspect,
        flowing=so_far.flowing + len(moving),
        low=min(so_far.low, float(moving.min())) if len(moving) else so_far.low,
        high=max(so_far.high, float(moving.max())) if len(moving) else so_far.high,
    )


def _add_draw(so_far: Quarter, draws: Draws, place: int) -> Quarter:
    length = int(draws.end_ms[place] - draws.start_ms[place])
    rate = int(draws.pulses[place]) / length * MINUTE_MS if length >= SHORTEST_DRAW_MS else 0.0
    inlet, outlet = float(draws.inlet_temp_c[place]), float(draws.outlet_temp_c[place])
    temp = inlet if math.isfinite(inlet) else outlet
    ec_in, ec_out = (
        float(draws.inlet_ec25_us_cm[place]),
        float(draws.outlet_ec25_us_cm[place]),
    )
    pair = math.isfinite(ec_in) and math.isfinite(ec_out) and min(ec_in, ec_out) > DRY_US_CM
    return msgspec.structs.replace(
        so_far,
        fastest=max(so_far.fastest, rate),
        coldest_c=min(so_far.coldest_c, temp) if math.isfinite(temp) else so_far.coldest_c,
        pairs=so_far.pairs + pair,
        swapped=so_far.swapped + (pair and ec_out > SWAPPED * ec_in),
        tally=tallied_draw(so_far.tally, draws, place),
    )
