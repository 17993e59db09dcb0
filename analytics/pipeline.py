"""The one way through: rows become draws, draws become estimates, estimates move alarms.

`advance` is the only entry. Live, a block is the last second; in replay an hour or a day; the
answer is the same to the last bit, however a recording is cut.
"""

from __future__ import annotations

from functools import cache

import msgspec
import numpy as np

from analytics.alarm import Life, Rule, Situation, by_hand, live_on
from analytics.chemistry.temperature import f25_where_defined
from analytics.draws import Gate, Run, find_draws, settled_ms
from analytics.registry import discover
from analytics.samples import AlarmChange, AnyEvent, Draws, Estimate, Rows, no_rows
from analytics.setup import LineSetup, LocalTime
from analytics.weigh import Weighing, start_weighing, weigh


class Block(msgspec.Struct, frozen=True, kw_only=True):
    """What came up to `end_ms`: rows in order of time, and dated facts."""

    end_ms: int
    rows: Rows = msgspec.field(default_factory=no_rows)
    events: tuple[AnyEvent, ...] = ()


class Watch(msgspec.Struct, frozen=True, kw_only=True):
    """Where the alarms of a line stand; not rewound when a fact comes late."""

    lives: dict[str, Life] = {}
    estimate: Estimate | None = None
    last_row_ms: int = 0
    silent: bool = False


class LineState(msgspec.Struct, frozen=True, kw_only=True):
    """Everything a line carries from one block to the next."""

    run: Run
    weighing: Weighing
    watch: Watch


class Step(msgspec.Struct, frozen=True, kw_only=True):
    """What one block changed. `late` are facts dated before what was already weighed."""

    state: LineState
    draws: Draws
    estimates: tuple[Estimate, ...]
    alarms: tuple[AlarmChange, ...]
    late: tuple[AnyEvent, ...]


@cache
def rules() -> tuple[Rule, ...]:
    """Every alarm rule there is, one a file of `analytics/alarms`."""
    return tuple(discover("analytics.alarms", "RULE", Rule).values())


def start(line: LineSetup, seed: int) -> LineState:
    """A line of which nothing is known yet but its set-up."""
    return LineState(run=Run(), weighing=start_weighing(line, seed), watch=Watch())


def advance(line: LineSetup, local: LocalTime, seed: int, state: LineState, block: Block) -> Step:
    """Take one block of one line through every stage."""
    gate = Gate.at(line.pulses_per_l)
    late = tuple(e for e in block.events if e.at_ms <= state.weighing.step_ms)
    on_time = tuple(e for e in block.events if e.at_ms > state.weighing.step_ms)
    run, draws = find_draws(state.run, block.rows, block.end_ms, gate, f25_where_defined)
    until = settled_ms(run, block.end_ms)
    weighing, estimates = weigh(line, local, seed, state.weighing, draws, on_time, until)
    watch, alarms = watch_over(line, state.watch, block, estimates)
    after = LineState(run=run, weighing=weighing, watch=watch)
    return Step(state=after, draws=draws, estimates=estimates, alarms=alarms, late=late)


def watch_over(
    line: LineSetup, watch: Watch, block: Block, estimates: tuple[Estimate, ...]
) -> tuple[Watch, tuple[AlarmChange, ...]]:
    """Follow every alarm through what this block brought, in the order of time."""
    changes: list[AlarmChange] = []
    for event in block.events:
        watch, made = _hand(watch, event)
        changes += made
    silences = _silences(line, watch, block)
    moments = sorted(
        [(at, 0, silent) for at, silent in silences]
        + [(e.at_ms, 1 + place, False) for place, e in enumerate(estimates)]
    )
    for at_ms, which, silent in moments:
        if which:
            watch = msgspec.structs.replace(watch, estimate=estimates[which - 1])
        else:
            watch = msgspec.structs.replace(watch, silent=silent)
        watch, made = _evaluate(line, watch, at_ms)
        changes += made
    if len(block.rows):
        last = max(watch.last_row_ms, int(block.rows.at_ms[-1]))
        watch = msgspec.structs.replace(watch, last_row_ms=last)
    return watch, tuple(changes)


def _silences(line: LineSetup, watch: Watch, block: Block) -> list[tuple[int, bool]]:
    """Instants in this block at which the meters fell silent (True) or spoke again (False)."""
    gap = round(line.limits.gap_s * 1000)
    at = block.rows.at_ms
    if watch.last_row_ms:
        at = np.concatenate(([watch.last_row_ms], at))
    if not len(at):
        return []
    found: list[tuple[int, bool]] = []
    if watch.silent and len(at) > 1 and int(at[1] - at[0]) <= gap:
        found.append((int(at[1]), False))  # rows that were only on their way
    for place in np.flatnonzero(np.diff(at) > gap).tolist():
        begun = int(at[place]) + gap
        if not (watch.silent and place == 0):
            found.append((begun, True))
        found.append((int(at[place + 1]), False))
    still_silent = watch.silent and len(at) == 1
    if block.end_ms - int(at[-1]) > gap and not still_silent:
        found.append((int(at[-1]) + gap, True))
    return found


def _evaluate(line: LineSetup, watch: Watch, at_ms: int) -> tuple[Watch, list[AlarmChange]]:
    situation = Situation(
        at_ms=at_ms,
        line=line,
        estimate=watch.estimate,
        silent_since_ms=watch.last_row_ms if watch.silent else None,
    )
    lives, changes = dict(watch.lives), list[AlarmChange]()
    for rule in rules():
        lives[rule.name], made = live_on(rule, lives.get(rule.name, Life()), situation)
        changes += made
    return msgspec.structs.replace(watch, lives=lives), changes


def _hand(watch: Watch, event: AnyEvent) -> tuple[Watch, list[AlarmChange]]:
    lives, changes = dict(watch.lives), list[AlarmChange]()
    for rule in rules():
        if rule.name in lives:
            lives[rule.name], made = by_hand(rule, lives[rule.name], event)
            changes += made
    return msgspec.structs.replace(watch, lives=lives), changes
