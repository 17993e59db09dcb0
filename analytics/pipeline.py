"""The one way through: rows become draws, draws become estimates, estimates move alarms.

`advance` is the only entry. Live, a block is the last second; in replay an hour or a day; the
answer is the same to the last bit, however a recording is cut.
"""

from __future__ import annotations

import msgspec
import numpy as np

from analytics.chemistry.temperature import f25_where_defined
from analytics.draws import Gate, Run, find_draws, settled_ms
from analytics.samples import AlarmChange, AnyEvent, Draws, Estimate, Rows, no_draws, no_rows
from analytics.setup import LineSetup, LocalTime
from analytics.unseen import Gaps
from analytics.watch import TELLS_OF_ALARMS, Came, Watch, follow
from analytics.weigh import Weighing, start_weighing, weigh


class Block(msgspec.Struct, frozen=True, kw_only=True):
    """What came up to `end_ms`: rows in order of time, and dated facts."""

    end_ms: int
    rows: Rows = msgspec.field(default_factory=no_rows)
    events: tuple[AnyEvent, ...] = ()


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


def start(line: LineSetup, seed: int) -> LineState:
    """A line of which nothing is known yet but its set-up."""
    return LineState(run=Run(), weighing=start_weighing(line, seed), watch=Watch())


def advance(line: LineSetup, local: LocalTime, seed: int, state: LineState, block: Block) -> Step:
    """Take one block of one line through every stage."""
    gate = Gate.at(line.pulses_per_l)
    facts = tuple(e for e in block.events if not isinstance(e, TELLS_OF_ALARMS))
    late = tuple(e for e in facts if e.at_ms <= state.weighing.step_ms)
    on_time = tuple(e for e in facts if e.at_ms > state.weighing.step_ms)
    run, draws = find_draws(state.run, block.rows, block.end_ms, gate, f25_where_defined)
    until = settled_ms(run, block.end_ms)
    gaps = gaps_in(line, state.run.last_row_ms, block)
    weighing, estimates = weigh(line, local, seed, state.weighing, draws, on_time, until, gaps)
    watch, alarms = watch_over(
        line, state.watch, block, estimates, local=local, draws=draws, until_ms=until
    )
    after = LineState(run=run, weighing=weighing, watch=watch)
    return Step(state=after, draws=draws, estimates=estimates, alarms=alarms, late=late)


def gaps_in(line: LineSetup, last_row_ms: int, block: Block) -> Gaps:
    """Spans of this block in which no row came, from where a silence is longer than the site's
    limit; the last may go on after the block."""
    longest = round(line.limits.gap_s * 1000)
    at = block.rows.at_ms[np.searchsorted(block.rows.at_ms, last_row_ms, side="right") :]
    at = np.concatenate(([last_row_ms] if last_row_ms else [], at, [block.end_ms])).astype(np.int64)
    long = np.flatnonzero(np.diff(at) > longest)
    return tuple((int(at[i]) + longest, int(at[i + 1])) for i in long)


def watch_over(
    line: LineSetup,
    watch: Watch,
    block: Block,
    estimates: tuple[Estimate, ...],
    *,
    local: LocalTime = LocalTime(),  # noqa: B008 - it is frozen
    draws: Draws | None = None,
    until_ms: int | None = None,
) -> tuple[Watch, tuple[AlarmChange, ...]]:
    """Follow every alarm through what this block brought, in the order of time."""
    came = Came(
        rows=block.rows,
        draws=no_draws() if draws is None else draws,
        estimates=estimates,
        events=block.events,
        end_ms=block.end_ms,
        until_ms=block.end_ms if until_ms is None else until_ms,
    )
    return follow(line, local, watch, came)
