"""From rows to draws: which water flowed, and what the probes said while it did.

The answer does not depend on how the rows are cut into blocks: pulses are whole numbers, and a
draw's figures are computed once, from all its rows, when the draw is over.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeAlias

import msgspec
import numpy as np
from numpy.typing import NDArray

from analytics.samples import CHANNELS, MINUTE_MS, Draws, Flag, Floats, Ints, Rows, no_draws

Factor: TypeAlias = Callable[[Floats], Floats]
NDBool: TypeAlias = np.ndarray[Any, np.dtype[np.bool_]]

GAP_MS = 30_000
"""A draw is over when no pulse came for this long (common practice, no source)."""
STANDING_MS = 20 * MINUTE_MS
"""Water that did not move for longer has stood: it warmed and took up or lost CO2."""
PIECE_MS = 15 * MINUTE_MS
"""A draw is cut at this length at the latest: a leak has no end."""
LONGEST_ROW_MS = 90_000
"""Pulses of a row came at most this long before it: older silence is a gap, not flow."""
SPIKE = 0.04
"""A reading this far (relative) from its draw's median is a bubble or a spike: left out."""


class Gate(msgspec.Struct, frozen=True, kw_only=True):
    """What counts as flowing water: pulses to purge after standing, pulses that end a piece."""

    purge_pulses: int
    piece_pulses: int

    @staticmethod
    def at(pulses_per_l: float, purge_l: float = 2.0, piece_l: float = 5.0) -> Gate:
        """The gate of a meter with this K-factor as stated (pulses per litre)."""
        purge, piece = round(purge_l * pulses_per_l), round(piece_l * pulses_per_l)
        return Gate(purge_pulses=max(1, purge), piece_pulses=max(1, piece))


_WHOLE = ("at_ms", "start_ms", "pulses", "before", "still_ms", "run_ms", "spell", "part", "flags")
"""Columns of flowing rows: instant, start of the row's flow, pulses, pulses since standing before
it, how long the water had stood, start of the run of flow, and which quarter hour and which part of
the run's pulses it falls in: rows that share the last three belong to one draw."""

Flow: TypeAlias = dict[str, NDArray[Any]]


def _no_flow() -> Flow:
    whole = {name: np.empty(0, dtype=np.int64) for name in _WHOLE}
    return whole | {name: np.empty(0, dtype=np.float64) for name in CHANNELS}


class Run(msgspec.Struct, frozen=True, kw_only=True):
    """Where the flow stands between two blocks; `open` are the rows of the draw not yet over."""

    last_row_ms: int = 0
    last_flow_ms: int = 0
    since_still: int = 0
    still_ms: int = 0
    run_ms: int = 0
    run_pulses: int = 0
    late_rows: int = 0
    open: Flow = msgspec.field(default_factory=_no_flow)


def find_draws(run: Run, rows: Rows, end_ms: int, gate: Gate, natural: Factor) -> tuple[Run, Draws]:
    """Draws that are over by `end_ms`, and where the flow then stands.

    `rows` follow those already seen; rows not later than the last one seen are counted as late and
    left out. `natural(temp_c)` is the factor that refers conductivity to 25 C.
    """
    keep = int(np.searchsorted(rows.at_ms, run.last_row_ms, side="right"))
    if keep:
        run = msgspec.structs.replace(run, late_rows=run.late_rows + keep)
        rows = rows.cut(keep, len(rows))
    if len(rows):
        flow = np.flatnonzero(rows.pulses > 0)
        if len(flow):
            run = _follow(run, rows, flow, gate)
        run = msgspec.structs.replace(run, last_row_ms=int(rows.at_ms[-1]))
    return _close(run, end_ms, gate, natural)


def settled_ms(run: Run, end_ms: int) -> int:
    """Up to this instant no further draw can end: what comes before it may be weighed."""
    if not len(run.open["at_ms"]):
        return end_ms
    return min(end_ms, run.last_flow_ms - 1)


def _follow(run: Run, rows: Rows, flow: Ints, gate: Gate) -> Run:
    """Add the rows with pulses to what is open, each with what came before it."""
    at, pulses = rows.at_ms[flow], rows.pulses[flow]
    row_before = np.concatenate(([run.last_row_ms], rows.at_ms[:-1]))[flow]
    start = np.maximum(row_before, at - LONGEST_ROW_MS)
    flow_before = np.concatenate(([run.last_flow_ms], at[:-1]))
    quiet = start - flow_before
    stood, fresh_run = quiet > STANDING_MS, at - flow_before > GAP_MS
    before = _count_since(pulses, stood, run.since_still)
    still = _carry(quiet, stood, run.still_ms)
    run_ms = _carry(start, fresh_run, run.run_ms)
    run_pulses = _count_since(pulses, fresh_run, run.run_pulses)
    added: Flow = {
        "at_ms": at,
        "start_ms": start,
        "pulses": pulses,
        "before": before,
        "still_ms": still,
        "run_ms": run_ms,
        "spell": (at - run_ms) // PIECE_MS,
        "part": run_pulses // gate.piece_pulses,
        "flags": rows.flags[flow],
    } | {name: getattr(rows, name)[flow] for name in CHANNELS}
    return msgspec.structs.replace(
        run,
        last_flow_ms=int(at[-1]),
        since_still=int(before[-1] + pulses[-1]),
        still_ms=int(still[-1]),
        run_ms=int(run_ms[-1]),
        run_pulses=int(run_pulses[-1] + pulses[-1]),
        open={name: np.concatenate((run.open[name], added[name])) for name in added},
    )


def _count_since(pulses: Ints, anew: NDBool, so_far: int) -> Ints:
    """Pulses before each row since the last row where the count began anew."""
    total = np.cumsum(pulses) - pulses
    place = np.maximum.accumulate(np.where(anew, np.arange(len(pulses)), -1))
    at_reset = np.where(place >= 0, total[np.maximum(place, 0)], -so_far)
    return np.asarray(total - at_reset, dtype=np.int64)


def _carry(values: Ints, anew: NDBool, so_far: int) -> Ints:
    """The value of the last row that began anew, carried on."""
    place = np.maximum.accumulate(np.where(anew, np.arange(len(values)), -1))
    return np.asarray(np.where(place >= 0, values[np.maximum(place, 0)], so_far), dtype=np.int64)


def _close(run: Run, end_ms: int, gate: Gate, natural: Factor) -> tuple[Run, Draws]:
    """Take out every draw that cannot get another row."""
    flow = run.open
    count = len(flow["at_ms"])
    if not count:
        return run, no_draws()
    differs = np.zeros(count, dtype=bool)
    for name in ("run_ms", "spell", "part"):
        differs[1:] |= flow[name][1:] != flow[name][:-1]
    firsts = np.concatenate(([0], np.flatnonzero(differs)))
    over = max(end_ms, run.last_row_ms) - run.last_flow_ms > GAP_MS
    done = count if over else int(firsts[-1])
    if not done:
        return run, no_draws()
    closed = {name: column[:done] for name, column in flow.items()}
    rest = {name: column[done:] for name, column in flow.items()}
    draws = _summarise(closed, firsts[firsts < done], gate, natural)
    return msgspec.structs.replace(run, open=rest), draws


def _summarise(flow: Flow, firsts: Ints, gate: Gate, natural: Factor) -> Draws:
    """One line a draw."""
    lasts = np.append(firsts[1:], len(flow["at_ms"])) - 1
    piece = np.repeat(np.arange(len(firsts)), lasts - firsts + 1)
    weight = np.where(flow["before"] >= gate.purge_pulses, flow["pulses"], 0).astype(np.float64)
    columns: dict[str, Any] = {
        "start_ms": flow["start_ms"][firsts],
        "end_ms": flow["at_ms"][lasts],
        "pulses": np.add.reduceat(flow["pulses"], firsts),
        "pulses_before": flow["before"][firsts],
        "still_ms": flow["still_ms"][firsts],
        "flags": np.bitwise_or.reduceat(flow["flags"], firsts),
    }
    for probe, suspect in (("outlet", Flag.OUTLET_SUSPECT), ("inlet", Flag.INLET_SUSPECT)):
        temp = flow[f"{probe}_temp_c"]
        ec25 = flow[f"{probe}_us_cm"] * natural(temp)
        usable = np.isfinite(ec25) & ((flow["flags"] & int(suspect)) == 0)
        mean, error, kept = _robust_means(ec25, np.where(usable, weight, 0.0), piece, firsts)
        columns[f"{probe}_ec25_us_cm"] = mean
        columns[f"{probe}_ec25_se"] = error
        columns[f"{probe}_temp_c"] = _weighted_mean(temp, kept, firsts)
    return Draws(**columns)


def _robust_means(
    values: Floats, weight: Floats, piece: Ints, firsts: Ints
) -> tuple[Floats, Floats, Floats]:
    """Weighted mean of each piece without its spikes, its standard error, and the weights kept."""
    middle = _weighted_median(values, weight, piece, firsts)[piece]
    near = np.abs(values - middle) <= SPIKE * np.abs(middle)
    kept = np.where(near & np.isfinite(values), weight, 0.0)
    mean = _weighted_mean(values, kept, firsts)
    off = np.where(kept > 0, values - mean[piece], 0.0)
    total = np.add.reduceat(kept, firsts)
    squares = np.add.reduceat((kept * off) ** 2, firsts)
    counted = np.add.reduceat((kept > 0).astype(np.float64), firsts)
    with np.errstate(divide="ignore", invalid="ignore"):
        error = np.sqrt(squares * counted / (counted - 1.0)) / total
    return mean, np.where(counted > 1, error, np.nan), kept


def _weighted_mean(values: Floats, weight: Floats, firsts: Ints) -> Floats:
    total = np.add.reduceat(weight, firsts)
    products = np.add.reduceat(np.where(weight > 0, values, 0.0) * weight, firsts)
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray(np.where(total > 0, products / total, np.nan))


def _weighted_median(values: Floats, weight: Floats, piece: Ints, firsts: Ints) -> Floats:
    """The value at half the weight of each piece; NaN where nothing has weight."""
    filled = np.where(weight > 0, values, np.inf)
    order = np.lexsort((filled, piece))
    running = np.cumsum(weight[order])
    total = np.add.reduceat(weight, firsts)
    base = np.concatenate(([0.0], running[np.append(firsts[1:], len(values))[:-1] - 1]))
    # whole-number weights: the running sum is exact, so the cut of blocks cannot move the place
    place = np.searchsorted(running, base + total / 2.0, side="left")
    found = filled[order][np.minimum(place, len(values) - 1)]
    return np.where(total > 0, found, np.nan)
