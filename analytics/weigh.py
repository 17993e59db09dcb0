"""From draws and dated facts to estimates, in steps whose boundaries the data set.

A step ends at a full hour of UTC or where the litres of a five-hundredth of the capacity have
passed, whichever is first; never once a draw. So the answer is the same however the draws arrive.
Litres count in every step; what the probes said is gathered and weighed in looks (`look.py`).
"""

from __future__ import annotations

from typing import Any

import msgspec
import numpy as np

from analytics.belief import Belief, begin
from analytics.counting import Doubt, doubt_count, in_closure
from analytics.facts import compare_litres
from analytics.look import Watching, after_fact, before_fact, flow
from analytics.samples import (
    HOUR_MS,
    AnyEvent,
    CartridgeFitted,
    Closure,
    Draws,
    Estimate,
    MeterReading,
    MeterReplaced,
    Part,
    join_draws,
    no_draws,
)
from analytics.setup import Closures, LineSetup, LocalTime
from analytics.summary import summarise
from analytics.usage import Usage, observe, stated_l

REST_MS = 6 * HOUR_MS
"""With nothing new, an estimate is still made this often."""
PART_OF_CAPACITY = 0.002


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
    return min(hour, max(full, state.step_ms + 1))


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
    return state, summarise(
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
    closed = in_closure(state.closures, span)
    belief, doubt = doubt_count(
        line, local, seed, state.belief, state.usage, state.doubt, draws, span, closed
    )
    silent_ms = span[1] - span[0] if closed else 0  # a day shut by announcement is no habit
    usage = observe(state.usage, draws, line.pulses_per_l, span[1], silent_ms, local)
    return msgspec.structs.replace(state, belief=belief, doubt=doubt, usage=usage)


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
    belief, watching = flow(line, seed, state.belief, state.watching, draws, litres, until)
    return msgspec.structs.replace(
        state, belief=belief, watching=watching, counted_l=state.counted_l + litres
    )


def _take_fact(line: LineSetup, seed: int, state: Weighing, event: AnyEvent, at: int) -> Weighing:
    belief, watching = before_fact(line, seed, state.belief, state.watching, event, at)
    changes: dict[str, Any] = {}
    if isinstance(event, CartridgeFitted):
        changes = {"cartridge_id": event.cartridge_id, "fitted_ms": event.at_ms}
    if isinstance(event, Closure):
        kept = tuple(c for c in state.closures if c[1] > at)
        changes = {"closures": (*kept, (event.at_ms, event.until_ms))}
    if isinstance(event, MeterReading):
        if state.hand is not None:
            read = event.litres - state.hand.read_l
            belief = compare_litres(line, belief, read, state.counted_l - state.hand.counted_l)
        changes = {"hand": HandReading(read_l=event.litres, counted_l=state.counted_l)}
    if isinstance(event, MeterReplaced) and event.part == Part.FLOW_METER:
        changes = {"hand": HandReading(read_l=event.shows_l, counted_l=state.counted_l)}
    belief, watching = after_fact(line, seed, belief, watching, event)
    return msgspec.structs.replace(state, belief=belief, watching=watching, **changes)
