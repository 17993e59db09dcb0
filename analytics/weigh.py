"""From draws and dated facts to estimates, in steps whose boundaries the data set.

A step ends at a full hour of UTC, where the litres of a five-hundredth of the capacity have passed
or where a person entered a fact, whichever is first; never once a draw. So the answer is the same
however the draws arrive. Litres count in every step; what the probes said is gathered and weighed
in looks (`look.py`).
"""

from __future__ import annotations

import math
from typing import Any

import msgspec
import numpy as np

from analytics.baseline import GAIN_SD, less_known, turned_round
from analytics.belief import Belief, begin, changed
from analytics.counting import Doubt, doubt_count, in_closure
from analytics.facts import compare_litres
from analytics.hearing import Hearing, hear
from analytics.look import Watching, after_fact, before_fact, flow
from analytics.remarks import Known, remarks_of
from analytics.samples import (
    HOUR_MS,
    AnyEvent,
    BypassSet,
    CartridgeFitted,
    Closure,
    CrossZero,
    Draws,
    DropTest,
    Estimate,
    KFactorSet,
    MeterReading,
    MeterReplaced,
    Part,
    Point,
    join_draws,
    no_draws,
)
from analytics.setup import Closures, LineSetup, LocalTime
from analytics.summary import summarise
from analytics.unannounced import Suspicion, closed, is_new, new_change, suspect
from analytics.unseen import Gaps, Missed, in_gap, kept, pass_gap
from analytics.usage import Usage, observe, stated_l

REST_MS = 6 * HOUR_MS
"""With nothing new, an estimate is still made this often."""
PART_OF_CAPACITY = 0.002
BY_HAND = (DropTest, CartridgeFitted, BypassSet, CrossZero, KFactorSet, MeterReading)
"""Facts that a person enters and wants to see acted on: each ends its step."""


class HandReading(msgspec.Struct, frozen=True, kw_only=True):
    """The last water-meter reading by hand, and the litres counted up to then."""

    read_l: float
    counted_l: float


class Weighing(msgspec.Struct, frozen=True, kw_only=True):
    """What is believed of a line, and what still waits for its step to end."""

    belief: Belief
    watching: Watching = Watching()
    usage: Usage = Usage()
    draws: Draws = msgspec.field(default_factory=no_draws)
    events: tuple[AnyEvent, ...] = ()
    step_ms: int = 0
    cartridge_id: str = ""
    fitted_ms: int = 0
    counted_l: float = 0.0
    hand: HandReading | None = None
    doubt: Doubt = Doubt()
    closures: tuple[tuple[int, int], ...] = ()
    hearing: Hearing = Hearing()
    gaps: Gaps = ()
    missed: Missed = Missed()
    suspicion: Suspicion = Suspicion()


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
    gaps: Gaps = (),
) -> tuple[Weighing, tuple[Estimate, ...]]:
    """Take in draws and dated facts and end every step that may end by `until_ms`.

    In `gaps` no row came; the last may go on. No draw or fact that ends by `until_ms` may come
    later: what does is for the caller to replay from an earlier snapshot.
    """
    waiting = tuple(sorted((*state.events, *events), key=lambda e: (e.at_ms, e.event_id)))
    state = msgspec.structs.replace(
        state,
        draws=join_draws(state.draws, draws),
        events=waiting,
        gaps=kept(state.gaps, gaps, state.step_ms),
    )
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
    facts = [e.at_ms for e in state.events if not isinstance(e, Closure)]
    firsts = facts[:1] + state.draws.start_ms[:1].tolist()
    return min(firsts) if firsts else None


def _next_edge(line: LineSetup, state: Weighing) -> int:
    """Where the running step ends, given all that is waiting."""
    firsts: list[int] = [e.at_ms for e in state.events[:1]] + state.draws.end_ms[:1].tolist()
    rest = (state.step_ms // REST_MS + 1) * REST_MS
    if not firsts or (soonest := min(firsts)) > rest:
        return rest
    hour = max(-(-soonest // HOUR_MS), state.step_ms // HOUR_MS + 1) * HOUR_MS
    near = state.draws.pulses[: int(np.searchsorted(state.draws.end_ms, hour)) + 1]
    total = np.cumsum(near)
    place = int(np.searchsorted(total, part_of_capacity_l(line) * line.pulses_per_l))
    full = int(state.draws.end_ms[place]) if place < len(total) else hour
    told = next((e.at_ms for e in state.events if isinstance(e, BY_HAND)), hour)
    return min(hour, max(min(full, told), state.step_ms + 1))


def part_of_capacity_l(line: LineSetup) -> float:
    """Litres that end a step before its hour is over."""
    litres = line.rated_l or (line.capacity_mmol or 10_000.0) / 2.4
    return max(PART_OF_CAPACITY * litres, 1.0 / line.pulses_per_l)


def _step(
    line: LineSetup, local: LocalTime, seed: int, state: Weighing, edge: int
) -> tuple[Weighing, Estimate]:
    count = int(np.searchsorted(state.draws.end_ms, edge, side="right"))
    draws, rest = state.draws.cut(0, count), state.draws.cut(count, len(state.draws))
    due = sum(e.at_ms <= edge for e in state.events)
    events, later = state.events[:due], state.events[due:]
    begun = state.step_ms
    state = msgspec.structs.replace(state, draws=rest, events=later, step_ms=edge)
    state = _in_order(line, local, seed, state, draws, events, begun, edge)
    state = _count(line, local, seed, state, draws, (begun, edge))
    state = _look_for_another(state, edge)
    estimate = summarise(
        line,
        local,
        state.belief,
        state.watching,
        state.usage,
        edge,
        state.cartridge_id,
        state.fitted_ms,
        announced(state, edge),
    )
    return state, with_remarks(line, state, estimate)


def with_remarks(line: LineSetup, state: Weighing, estimate: Estimate) -> Estimate:
    """The estimate with what a person should know of it."""
    known = Known(
        belief=state.belief,
        hearing=state.hearing,
        missed=state.missed,
        suspicion=state.suspicion,
        hand_read=state.hand is not None,
        at_ms=estimate.at_ms,
    )
    remarks = remarks_of(line, known)
    reason = remarks[0].code if remarks else ""
    return msgspec.structs.replace(estimate, remarks=remarks, reason=reason)


def _look_for_another(state: Weighing, at_ms: int) -> Weighing:
    """Close the account of a cartridge that was changed and nobody said so."""
    if not is_new(state.suspicion, state.belief, at_ms):
        return state
    changed_ms = state.suspicion.at_ms
    belief = msgspec.structs.replace(state.belief, **closed(state.belief, state.suspicion))
    return msgspec.structs.replace(
        state,
        belief=belief,
        cartridge_id=f"unannounced-{changed_ms}",
        fitted_ms=changed_ms,
        missed=Missed(),
        suspicion=Suspicion(found_ms=changed_ms),
    )


def announced(state: Weighing, at_ms: int) -> Closures:
    """Closures that run or that are known by now to come."""
    coming = tuple(
        (e.at_ms, e.until_ms)
        for e in state.events
        if isinstance(e, Closure) and e.known_at_ms <= at_ms
    )
    return (*state.closures, *coming)


def due_ms(event: AnyEvent) -> int:
    """From when on a dated fact belongs into a block: a closure does once it is known."""
    return min(event.at_ms, event.known_at_ms) if isinstance(event, Closure) else event.at_ms


def _count(
    line: LineSetup,
    local: LocalTime,
    seed: int,
    state: Weighing,
    draws: Draws,
    span: tuple[int, int],
) -> Weighing:
    """Learn the place's use, and doubt the meter where it does not fit."""
    shut = in_closure(state.closures, span)
    parts = () if shut else in_gap(state.gaps, span)
    since_ms = state.fitted_ms or span[0]
    belief, missed = pass_gap(
        line, local, seed, state.belief, state.usage, state.missed, parts, since_ms
    )
    belief, doubt = doubt_count(
        line, local, seed, belief, state.usage, state.doubt, draws, span, shut or bool(parts)
    )
    # neither a day shut by announcement nor one of which little is known is a habit
    unknown_ms = span[1] - span[0] if shut else sum(until - first for first, until in parts)
    usage = observe(state.usage, draws, line.pulses_per_l, span[1], unknown_ms, local)
    gaps = kept(state.gaps, (), span[1])
    return msgspec.structs.replace(
        state, belief=belief, doubt=doubt, usage=usage, missed=missed, gaps=gaps
    )


def _in_order(
    line: LineSetup,
    local: LocalTime,
    seed: int,
    state: Weighing,
    draws: Draws,
    events: tuple[AnyEvent, ...],
    begun: int,
    edge: int,
) -> Weighing:
    """Draws and facts of one step, in the order they happened."""
    done = 0
    for event in events:
        upto = max(int(np.searchsorted(draws.end_ms, event.at_ms, side="right")), done)
        at = max(event.at_ms, begun)
        state = _take_draws(line, local, seed, state, draws.cut(done, upto), begun, at)
        state = _take_fact(line, seed, state, event, at)
        done, begun = upto, at
    return _take_draws(line, local, seed, state, draws.cut(done, len(draws)), begun, edge)


def _take_draws(
    line: LineSetup,
    local: LocalTime,
    seed: int,
    state: Weighing,
    draws: Draws,
    begun: int,
    until: int,
) -> Weighing:
    """Litres of these draws, or of this time where no meter counts, and what the probes said."""
    if line.flow_meter:
        litres = int(draws.pulses.sum()) / line.pulses_per_l
    else:
        litres = stated_l(line, local, begun, until, state.closures)
    state, draws = _hear(line, state, draws, until)
    belief, watching = flow(line, seed, state.belief, state.watching, draws, litres, until)
    suspicion = state.suspicion
    if new_change(state.watching.change, watching.change):
        suspicion = suspect(suspicion, state.belief, until)
    return msgspec.structs.replace(
        state,
        belief=belief,
        watching=watching,
        suspicion=suspicion,
        counted_l=state.counted_l + litres,
    )


def _hear(line: LineSetup, state: Weighing, draws: Draws, at_ms: int) -> tuple[Weighing, Draws]:
    """Draws as they are to be weighed; probes that were exchanged are put right."""
    belief = state.belief
    litres = math.nan if belief.started_unknown else belief.litres
    heard = hear(line, state.hearing, draws, litres, at_ms)
    if heard.turned_now and heard.from_start:
        belief = changed(belief, turned_round(belief.cloud))
    elif heard.turned_now:
        belief = changed(belief, less_known(belief.cloud, GAIN_SD**2))
    return msgspec.structs.replace(state, belief=belief, hearing=heard.hearing), heard.draws


def _take_fact(line: LineSetup, seed: int, state: Weighing, event: AnyEvent, at: int) -> Weighing:
    if isinstance(event, CrossZero) and state.hearing.turned and event.inlet_us_cm is not None:
        event = _right_way_round(event)
    before = state.belief
    belief, watching = before_fact(line, seed, before, state.watching, event, at)
    changes: dict[str, Any] = {}
    if isinstance(event, CartridgeFitted):
        changes = {
            "cartridge_id": event.cartridge_id,
            "fitted_ms": event.at_ms,
            "missed": Missed(),
            "suspicion": Suspicion(),
        }
    if isinstance(event, Closure):
        running = tuple(c for c in state.closures if c[1] > at)
        changes = {"closures": (*running, (event.at_ms, event.until_ms))}
    if isinstance(event, MeterReading):
        if state.hand is not None:
            read, counted = event.litres - state.hand.read_l, state.counted_l - state.hand.counted_l
            belief = compare_litres(line, belief, read, counted, seed)
        changes = {"hand": HandReading(read_l=event.litres, counted_l=state.counted_l)}
    if isinstance(event, MeterReplaced) and event.part == Part.FLOW_METER:
        changes = {"hand": HandReading(read_l=event.shows_l, counted_l=state.counted_l)}
    if isinstance(event, DropTest) and contradicted(belief, event):
        changes = {"suspicion": suspect(state.suspicion, before, at)}
    belief, watching = after_fact(line, seed, belief, watching, event)
    return msgspec.structs.replace(state, belief=belief, watching=watching, **changes)


def contradicted(belief: Belief, event: DropTest) -> bool:
    """Whether this drop test of the machine's water is one that contradicts."""
    return event.point is not Point.RAW and any(
        t.doubted and t.event_id == event.event_id and t.at_ms == event.at_ms for t in belief.tested
    )


def _right_way_round(event: CrossZero) -> CrossZero:
    """Both probes in raw water, told by the names of probes that are exchanged."""
    if event.inlet_us_cm is None or event.inlet_temp_c is None:
        return event
    return msgspec.structs.replace(
        event,
        outlet_us_cm=event.inlet_us_cm,
        outlet_temp_c=event.inlet_temp_c,
        inlet_us_cm=event.outlet_us_cm,
        inlet_temp_c=event.outlet_temp_c,
    )
