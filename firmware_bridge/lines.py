"""One line at work: its state, fed by rows and facts, mended when something comes late."""

from __future__ import annotations

from collections.abc import Iterable

import msgspec
import numpy as np

from analytics.draws import Run
from analytics.pipeline import Block, LineState, Step, advance, start
from analytics.samples import (
    HOUR_MS,
    AlarmChange,
    AnyEvent,
    Draws,
    Estimate,
    Flag,
    Rows,
    join_draws,
    join_rows,
    no_draws,
    no_rows,
)
from analytics.setup import LineSetup, LocalTime
from analytics.snapshot import from_bytes, to_bytes
from analytics.watch import ACTS, TELLS_OF_ALARMS, Watch, told_at_ms, with_late_fact
from analytics.weigh import due_ms, weigh
from firmware_bridge.store.reader import Reader

FAR_MS = 1 << 60


def watch_key(line_id: str) -> str:
    """Under which name the store keeps how the alarms of a line stand; "" is the box."""
    return f"watch/{line_id}"


class Outcome(msgspec.Struct, frozen=True, kw_only=True):
    """What a line's work brought: to be stored in one go."""

    draws: Draws
    estimates: tuple[Estimate, ...]
    alarms: tuple[AlarmChange, ...]
    redone_from_ms: int | None = None
    """From here on the past was worked over: older results after it are void."""


class Line:
    """One line's pipeline between store and loop. Every call may take a while: off the loop."""

    def __init__(self, setup: LineSetup, local: LocalTime, seed: int, reader: Reader) -> None:
        self.setup = setup
        self._local = local
        self._seed = seed
        self._reader = reader
        self.state: LineState = start(setup, seed)
        self.end_ms = 0
        self.late_from_ms: int | None = None
        self.late_rows = 0

    def recover(self) -> Outcome:
        """Go on from the last snapshot, over whatever rows and facts were stored after it."""
        self.state = self._snapshot(FAR_MS)
        kept = self._reader.snapshot_before(watch_key(self.setup.line_id), 0)
        watch = from_bytes(kept[1], Watch) if kept is not None else None
        if watch is not None and watch.at_ms > self.state.watch.at_ms:
            self.state = msgspec.structs.replace(self.state, watch=watch)
        return self._redo(FAR_MS)

    def work(self, rows: Rows, events: tuple[AnyEvent, ...], end_ms: int) -> Outcome:
        """Take in new rows and facts; what belongs to the past is noted for `mend`."""
        rows = self._in_time(rows)
        end_ms = max(end_ms, self.end_ms, int(rows.at_ms[-1]) if len(rows) else 0)
        mine = tuple(e for e in events if e.line_id in ("", self.setup.line_id))
        step = self._advance(Block(end_ms=end_ms, rows=rows, events=mine))
        for event in step.late:
            self.note_late(event.at_ms)
        return Outcome(draws=step.draws, estimates=step.estimates, alarms=step.alarms)

    def mend(self, now_ms: int) -> Outcome | None:
        """Work the past over from before the earliest late row or fact; None if none was late.

        New estimates of old instants carry `known_at_ms` = `now_ms`; what was shown then stays.
        """
        if self.late_from_ms is None:
            return None
        late, self.late_from_ms = self.late_from_ms, None
        seen, watch, end_ms = self.state.weighing.step_ms, self.state.watch, self.end_ms
        self.state = self._snapshot(late - 1)
        redone_from = max(self._before_open(), self._reader.rows_from_ms(self.setup.line_id) - 1)
        outcome = self._redo(end_ms)
        estimate = outcome.estimates[-1] if outcome.estimates else watch.estimate
        self.state = msgspec.structs.replace(
            self.state, watch=msgspec.structs.replace(watch, estimate=estimate)
        )
        estimates = tuple(
            msgspec.structs.replace(e, known_at_ms=now_ms) if e.at_ms <= seen else e
            for e in outcome.estimates
        )
        return Outcome(
            draws=outcome.draws, estimates=estimates, alarms=(), redone_from_ms=redone_from
        )

    def kept_watch(self) -> tuple[str, int, bytes]:
        """How the alarms stand now, to be stored together with what moved them."""
        return watch_key(self.setup.line_id), 0, to_bytes(self.state.watch)

    def snapshot(self) -> tuple[str, int, bytes]:
        """The state now, for the store."""
        return self.setup.line_id, self.state.run.last_row_ms, to_bytes(self.state)

    def _in_time(self, rows: Rows) -> Rows:
        """Rows later than all before; older ones and those of an unsure clock are noted."""
        if not len(rows):
            return rows
        sure = (rows.flags & int(Flag.CLOCK_UNSURE)) == 0
        newer = rows.at_ms > max(self.state.run.last_row_ms, self.state.weighing.step_ms)
        if (late := rows.at_ms[sure & ~newer]).size:
            self.late_rows += late.size
            self.note_late(int(late.min()))
        return rows.pick(np.flatnonzero(sure & newer))

    def note_late(self, at_ms: int) -> None:
        """Something dated back to this instant became known only now."""
        self.late_from_ms = at_ms if self.late_from_ms is None else min(self.late_from_ms, at_ms)

    def note_late_fact(self, fact: AnyEvent) -> None:
        """The same for a fact that came in beside the running work."""
        self.note_late(fact.at_ms)
        watch = with_late_fact(self.state.watch, fact)
        self.state = msgspec.structs.replace(self.state, watch=watch)

    def _advance(self, block: Block) -> Step:
        step = advance(self.setup, self._local, self._seed, self.state, block)
        self.state = step.state
        self.end_ms = block.end_ms
        return step

    def _snapshot(self, at_ms: int) -> LineState:
        """The newest state that knows nothing after `at_ms`, or the very beginning."""
        while (found := self._reader.snapshot_before(self.setup.line_id, at_ms)) is not None:
            state = from_bytes(found[1], LineState)
            if state is not None and state.weighing.step_ms <= at_ms:
                return state
            at_ms = found[0] - 1
        return start(self.setup, self._seed)

    def _redo(self, until_ms: int) -> Outcome:
        """From the state as it is, again over the stored rows and facts after it."""
        line_id = self.setup.line_id
        draws, alarms = no_draws(), list[AlarmChange]()
        weighed = self.state.weighing
        clean = msgspec.structs.replace(weighed, events=())
        self.state = msgspec.structs.replace(self.state, weighing=clean)
        told = self.state.watch.at_ms
        events = [
            e
            for e in self._reader.events(line_id)
            if (told_at_ms(e) > told if isinstance(e, ACTS) else e.at_ms > weighed.step_ms)
        ]
        estimates, events = self._over_draws(events)
        for rows in self._stored(self.state.run.last_row_ms + 1, until_ms):
            end = int(rows.at_ms[-1])
            due = tuple(e for e in events if due_ms(e) <= end)
            events = [e for e in events if due_ms(e) > end]
            step = self._advance(Block(end_ms=end, rows=rows, events=due))
            draws = join_draws(draws, step.draws)
            estimates += step.estimates
            alarms += step.alarms
        if events or until_ms < FAR_MS:
            end = max([self.end_ms, *map(due_ms, events)] + [until_ms] * (until_ms < FAR_MS))
            step = self._advance(Block(end_ms=end, events=tuple(events)))
            draws = join_draws(draws, step.draws)
            estimates += step.estimates
            alarms += step.alarms
        return Outcome(draws=draws, estimates=tuple(estimates), alarms=tuple(alarms))

    def _before_open(self) -> int:
        """The last instant of which nothing is needed any more to find the next draws."""
        still_open = self.state.run.open["start_ms"]
        return int(still_open[0]) - 1 if len(still_open) else self.state.run.last_row_ms

    def _over_draws(self, events: list[AnyEvent]) -> tuple[list[Estimate], list[AnyEvent]]:
        """Where rows have been thinned, go on over the draws that were found in them.

        A draw holds all that is weighed, so the estimates are the same, but for gaps: where no row
        is left nobody can tell a gap from a silent meter, and both stay possible. Returns the
        estimates, and the facts that are still to come.
        """
        line_id, run = self.setup.line_id, self.state.run
        rows_from = self._reader.rows_from_ms(line_id)
        if rows_from <= run.last_row_ms + 1:
            return [], events
        draws = self._reader.draws(line_id, self._before_open() + 1, rows_from)
        last = max([rows_from - 1, *draws.end_ms[-1:].tolist()])
        due = tuple(e for e in events if due_ms(e) <= last)
        facts = tuple(e for e in due if not isinstance(e, TELLS_OF_ALARMS))
        weighing, estimates = weigh(
            self.setup, self._local, self._seed, self.state.weighing, draws, facts, last
        )
        after = Run(last_row_ms=last, last_flow_ms=int(draws.end_ms[-1]) if len(draws) else 0)
        self.state = msgspec.structs.replace(self.state, run=after, weighing=weighing)
        self.end_ms = max(self.end_ms, last)
        return list(estimates), [e for e in events if due_ms(e) > last]

    def _stored(self, from_ms: int, until_ms: int) -> Iterable[Rows]:
        """Stored rows with a sure clock, a day at a time."""
        kept = no_rows()
        for rows in self._reader.rows_by_hour(self.setup.line_id, from_ms, until_ms):
            sure = np.flatnonzero((rows.flags & int(Flag.CLOCK_UNSURE)) == 0)
            kept = join_rows(kept, rows if len(sure) == len(rows) else rows.pick(sure))
            if len(kept) and int(kept.at_ms[-1]) - int(kept.at_ms[0]) >= 23 * HOUR_MS:
                yield kept
                kept = no_rows()
        if len(kept):
            yield kept
