"""From draws and dated facts to estimates, in steps whose boundaries the data set.

A step ends at a full hour of UTC or where the litres of a five-hundredth of the capacity have
passed, whichever is first; never once a draw. So the answer is the same however the draws arrive.
"""

from __future__ import annotations

import math
from typing import Any

import msgspec
import numpy as np

from analytics.bed import Stand, exchanges, family_of
from analytics.belief import Belief, begin, refresh, shares
from analytics.column.family import CurveFamily
from analytics.evidence import Seen, drift, pass_litres, see_outlet, see_pair, take_event
from analytics.guess import raw_of
from analytics.samples import (
    DAY_MS,
    HOUR_MS,
    AnyEvent,
    CartridgeFitted,
    Draws,
    Estimate,
    Floats,
    join_draws,
    no_draws,
)
from analytics.setup import LineSetup, LocalTime
from analytics.summary import summarise
from analytics.usage import Usage, observe

REST_MS = 6 * HOUR_MS
"""With nothing new, an estimate is still made this often."""
PART_OF_CAPACITY = 0.002


class Weighing(msgspec.Struct, frozen=True, kw_only=True):
    """What is believed of a line, and what still waits for its step to end."""

    belief: Belief
    usage: Usage = Usage()
    draws: Draws = msgspec.field(default_factory=no_draws)
    events: tuple[AnyEvent, ...] = ()
    step_ms: int = 0
    cartridge_id: str = ""
    fitted_ms: int = 0
    last_draw_ms: int = 0


def start_weighing(line: LineSetup, seed: int) -> Weighing:
    """Nothing known yet but what the site file says."""
    return Weighing(belief=begin(line, seed))


def weigh(
    line: LineSetup,
    local: LocalTime,
    seed: int,
    state: Weighing,
    draws: Draws,
    events: tuple[AnyEvent, ...],
    until_ms: int,
) -> tuple[Weighing, tuple[Estimate, ...]]:
    """Take in draws and dated facts and end every step that may end by `until_ms`.

    No draw or fact that ends by `until_ms` may come later: what does is for the caller to replay
    from an earlier snapshot.
    """
    waiting = tuple(sorted((*state.events, *events), key=lambda e: (e.at_ms, e.event_id)))
    state = msgspec.structs.replace(state, draws=join_draws(state.draws, draws), events=waiting)
    if not state.step_ms:
        first = _first_ms(state)
        if first is None:
            return state, ()
        state = msgspec.structs.replace(state, step_ms=first // HOUR_MS * HOUR_MS)
    estimates: list[Estimate] = []
    while (edge := _next_edge(line, state)) <= until_ms:
        state, estimate = _step(line, local, seed, state, edge)
        estimates.append(estimate)
    return state, tuple(estimates)


def _first_ms(state: Weighing) -> int | None:
    firsts = [e.at_ms for e in state.events[:1]] + state.draws.start_ms[:1].tolist()
    return min(firsts) if firsts else None


def _next_edge(line: LineSetup, state: Weighing) -> int:
    """Where the running step ends, given all that is waiting."""
    firsts: list[int] = [e.at_ms for e in state.events[:1]] + state.draws.end_ms[:1].tolist()
    rest = (state.step_ms // REST_MS + 1) * REST_MS
    if not firsts or (soonest := min(firsts)) > rest:
        return rest
    hour = max(-(-soonest // HOUR_MS), state.step_ms // HOUR_MS + 1) * HOUR_MS
    total = np.cumsum(state.draws.pulses)
    place = int(np.searchsorted(total, _pulses_a_step(line)))
    full = int(state.draws.end_ms[place]) if place < len(total) else hour
    return min(hour, max(full, state.step_ms + 1))


def _pulses_a_step(line: LineSetup) -> float:
    litres = line.rated_l or (line.capacity_mmol or 10_000.0) / 2.4
    return float(max(PART_OF_CAPACITY * litres * line.pulses_per_l, 1.0))


def _step(
    line: LineSetup, local: LocalTime, seed: int, state: Weighing, edge: int
) -> tuple[Weighing, Estimate]:
    count = int(np.searchsorted(state.draws.end_ms, edge, side="right"))
    draws, rest = state.draws.cut(0, count), state.draws.cut(count, len(state.draws))
    due = sum(e.at_ms <= edge for e in state.events)
    belief = drift(state.belief, (edge - state.step_ms) / DAY_MS, seed)
    belief = _in_order(line, seed, belief, draws, state.events[:due])
    belief = refresh(msgspec.structs.replace(belief, steps=belief.steps + 1), seed)
    fitted = [e for e in state.events[:due] if isinstance(e, CartridgeFitted)]
    changes: dict[str, Any] = {"last_draw_ms": int(draws.end_ms[-1])} if count else {}
    if fitted:
        changes |= {"cartridge_id": fitted[-1].cartridge_id, "fitted_ms": fitted[-1].at_ms}
    state = msgspec.structs.replace(
        state,
        belief=belief,
        usage=observe(state.usage, draws, line.pulses_per_l, edge, 0, local),
        draws=rest,
        events=state.events[due:],
        step_ms=edge,
        **changes,
    )
    estimate = summarise(
        line,
        local,
        stood(line, belief)[1],
        state.belief,
        state.usage,
        edge,
        state.cartridge_id,
        state.fitted_ms,
    )
    return state, estimate


def stood(line: LineSetup, belief: Belief) -> tuple[Belief, CurveFamily | None]:
    """The belief with curves drawn for about its water; None for a medium that has none."""
    if not exchanges(line.medium):
        return belief, None
    weights, raw = shares(belief), raw_of(belief)

    def middle(values: Floats) -> float:
        return float(np.sum(weights * values))

    here = Stand.near(
        middle(raw.hardness_mmol_l),
        middle(raw.alkalinity_meq_l),
        middle(belief.cloud["calcium"]),
        middle(raw.ec25_us_cm) if belief.ec_known else 0.0,
    )
    stand = belief.stand
    if stand is None or here.far_from(stand):
        belief = msgspec.structs.replace(belief, stand=here)
        stand = here
    return belief, family_of(line.medium, stand, line.end_share)


def _in_order(
    line: LineSetup,
    seed: int,
    belief: Belief,
    draws: Draws,
    events: tuple[AnyEvent, ...],
) -> Belief:
    """Draws and facts of one step, in the order they happened."""
    done = 0
    for event in events:
        upto = int(np.searchsorted(draws.end_ms, event.at_ms, side="right"))
        belief = _take_draws(line, seed, belief, draws.cut(done, upto))
        belief, family = stood(line, belief)
        belief = take_event(belief, line, family, event, seed)
        belief = refresh(msgspec.structs.replace(belief, steps=belief.steps + 1), seed)
        done = max(done, upto)
    return _take_draws(line, seed, belief, draws.cut(done, len(draws)))


def _take_draws(line: LineSetup, seed: int, belief: Belief, draws: Draws) -> Belief:
    if not len(draws):
        return belief
    belief, family = stood(line, belief)
    belief = pass_litres(belief, line, family, int(draws.pulses.sum()) / line.pulses_per_l)
    if family is None or not line.outlet_probe:
        return belief
    seen = seen_in(draws)
    if line.inlet_probe:
        return see_pair(belief, family, seen, seed)
    return see_outlet(belief, family, seen)


def seen_in(draws: Draws) -> Seen:
    """What the probes said over some draws: median of ln(EC25), NaN where nothing counted."""
    inlet, outlet = draws.inlet_ec25_us_cm, draws.outlet_ec25_us_cm
    both = np.isfinite(inlet) & np.isfinite(outlet)
    if both.any():
        return Seen(inlet=_ln_median(inlet[both]), outlet=_ln_median(outlet[both]))
    return Seen(inlet=_ln_median(inlet), outlet=_ln_median(outlet))


def _ln_median(values: Floats) -> float:
    usable = values[np.isfinite(values) & (values > 1.0)]
    return math.log(float(np.median(usable))) if len(usable) else math.nan
