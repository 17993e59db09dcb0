"""The site at work: rows in, a commit a second, the store's word back to the meters.

Meters deliver rows; every second what came goes to the disk, with what people said, and the meters
are told. Then each line takes it in, and what follows (draws, estimates, alarms) is stored. After a
crash between the two the second is worked out again from the stored rows.
"""

from __future__ import annotations

import asyncio
import contextlib
import math
from collections import Counter
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from functools import partial
from typing import TypeVar

import numpy as np
import structlog

from analytics.chemistry.temperature import f25_where_defined
from analytics.errors import StoreFailing, StoreFull
from analytics.samples import AnyEvent, Rows, Withdrawn, join_rows, no_rows
from analytics.setup import LineSetup, SiteSetup
from firmware_bridge.clock import Clock
from firmware_bridge.lines import Line, Outcome
from firmware_bridge.live import FLOW, INLET_EC25, INLET_TEMP, OUTLET_EC25, OUTLET_TEMP, Live
from firmware_bridge.readings.lot import Lot
from firmware_bridge.store.batch import Batch, Stored, Taken
from firmware_bridge.store.database import Store
from firmware_bridge.thrift import give_back
from firmware_bridge.true_time import TrueTime

T = TypeVar("T")

log = structlog.get_logger(__name__)

Confirm = Callable[[int, int], None]
"""Called with (boot_id, up to this frame) when these frames are on the disk."""

COMMIT_EVERY_S = 1.0
QUIET_S = 3.0
"""Late rows are worked over once none has come for this long, or after `PATIENCE_S` at most."""
PATIENCE_S = 30.0
MOST_LOTS = 600
"""So many lots may wait for a disk that takes nothing: some minutes of one meter."""
STOP_S = 30.0
"""How long a stop may wait for a disk that takes nothing."""
SNAPSHOT_EVERY_MS = 6 * 3_600_000
GIVE_BACK_EVERY = 30
"""Turns after which memory that is free goes back to the system."""
LONGEST_THOUGHT_S, THOUGHT_BEAT_S = 1800, 5
"""Working a year over may take minutes; what takes longer than this is stuck."""
LAG_S = 2.0
"""How long after its instant a row may still arrive in time."""
HURRIED_LAG_S = 6.0
"""The same, in real time, where a fast virtual clock outruns the machine now and then."""


class SiteLoop:
    """Feeds the lines and hands everything to the store. Runs on the event loop."""

    def __init__(
        self, setup: SiteSetup, store: Store, clock: Clock, live: Live, *, speed: float = 1.0
    ) -> None:
        self._setup = setup
        self._store = store
        self._clock = clock
        self._live = live
        self._lag_ms = round((LAG_S if speed == 1.0 else HURRIED_LAG_S * speed) * 1000)
        self._reader = store.reader()
        self._lines = {
            line.line_id: Line(line, setup.local_time, setup.seed, self._reader)
            for line in setup.lines
        }
        self._lots: list[tuple[Lot, Confirm]] = []
        self._told: list[AnyEvent] = []
        self._recording: list[asyncio.Future[None]] = []
        self._first = asyncio.Event()
        self._pool = ThreadPoolExecutor(max_workers=1, thread_name_prefix="thinking")
        self._late_since: float | None = None
        self._last_late = 0.0
        self._late_mark = 0
        self._snapped: dict[str, int] = {}
        self._flow = {line.line_id: _FlowNow() for line in setup.lines}
        self._dater: TrueTime | None = None
        self._when_known: Callable[[], tuple[AnyEvent, ...]] = tuple
        self.stored_rows = 0
        self.beats = 0
        self.full = False

    def go_by(self, dater: TrueTime, when_known: Callable[[], tuple[AnyEvent, ...]]) -> None:
        """Date what waits when the time is known; `when_known` gives facts that wait for it too."""
        self._dater, self._when_known = dater, when_known

    def deliver(self, lot: Lot, confirm: Confirm) -> None:
        """Take rows from a meter; `confirm` is called once they are durable."""
        self._lots.append((lot, confirm))
        self._first.set()
        for taken in lot.taken:
            self._publish(taken)

    async def room(self) -> None:
        """Wait while much waits for the disk already: the meters keep their rows meanwhile."""
        while len(self._lots) >= MOST_LOTS:  # noqa: ASYNC110 - a turn empties it all
            await asyncio.sleep(0.2)

    def tell(self, event: AnyEvent) -> None:
        """Take a dated fact from a person; it is stored with the next commit."""
        self._told.append(event)

    async def record(self, events: tuple[AnyEvent, ...]) -> None:
        """Take dated facts from a person; returns once they are on the disk.

        Whoever stops waiting changes nothing: they are stored all the same.
        """
        stored = asyncio.get_running_loop().create_future()
        self._told.extend(events)
        self._recording.append(stored)
        await stored

    async def recover(self, first_facts: tuple[AnyEvent, ...]) -> None:
        """Bring facts of the site file in once, and go on from where the store stands."""
        new = [e for e in first_facts if not self._reader.event_known(e.event_id)]
        if new:
            await self._submit(Batch(events=tuple(new)))
        for line in self._lines.values():
            outcome = await self._think(line.recover)
            await self._submit(_batch(line, outcome))
            for fact in new:
                if fact.at_ms <= line.state.weighing.step_ms:
                    line.note_late_fact(fact)

    async def run(self) -> None:
        """Work until cancelled; then hand over what is there and keep the state."""
        try:
            while True:
                await self._until_due()
                await self.turn()
        finally:
            await asyncio.shield(self._finish())

    async def _until_due(self) -> None:
        """A second; the very first rows do not wait for it to pass."""
        if self.stored_rows:
            await asyncio.sleep(COMMIT_EVERY_S)
            return
        with contextlib.suppress(TimeoutError):
            await asyncio.wait_for(self._first.wait(), COMMIT_EVERY_S)

    async def turn(self) -> None:
        """One second's work: rows onto the disk, the meters told, then what follows from them."""
        self.beats += 1
        lots, self._lots = self._lots, []
        if self._dater is not None:
            lots = [(self._dater.seen(lot), confirm) for lot, confirm in lots]
        told, self._told = tuple(self._told), []
        recording, self._recording = self._recording, []
        now = self._clock.now_ms() - self._lag_ms
        taken = [piece for lot, _ in lots for piece in lot.taken]
        if lots or told:
            with _answering(recording):
                stored = await self._submit(_gathered([lot for lot, _ in lots], told))
            self.stored_rows += sum(len(piece.rows) for piece in taken)
            for lot, confirm in lots:
                for boot_id in {piece.boot_id for piece in lot.taken} & stored.confirmed.keys():
                    confirm(boot_id, stored.confirmed[boot_id])
        await self._date()
        batches = []
        for line in self._lines.values():
            rows = _rows_of(line.setup.line_id, taken)
            batches.append(_batch(line, await self._think(partial(line.work, rows, told, now))))
            for event in told:
                if isinstance(event, Withdrawn) and event.line_id in ("", line.setup.line_id):
                    line.note_late(event.at_ms)  # what it withdraws may be weighed already
        found = _one(batches, self._snapshots())
        if found != Batch():
            await self._submit(found)
        await self._mend()
        if self.beats % GIVE_BACK_EVERY == 0:
            await self._think(give_back)

    async def _date(self) -> None:
        """Rows that have just got their date are worked in, with the facts that waited for it."""
        if self._dater is None:
            return
        for line_id, at_ms in (await self._dater.turn()).items():
            if line_id in self._lines:
                self._lines[line_id].note_late(at_ms)
        if self._dater.clock.is_sane():
            for fact in self._when_known():
                self.tell(fact)
            self._when_known = tuple

    async def _submit(self, batch: Batch) -> Stored:
        """Hand a batch to the store; where there is no room, or the disk fails, try again."""
        wait_s = 1.0
        while True:
            try:
                stored = await asyncio.wrap_future(self._store.submit(batch))
            except (StoreFull, StoreFailing) as fault:
                if not self.full:
                    log.warning("store.waiting", error=str(fault), hint=fault.hint)
                self.full = True
                self.beats += 1  # waiting for room is no standstill
                await asyncio.sleep(wait_s)
                wait_s = min(2.0 * wait_s, 30.0)
            else:
                if self.full:
                    log.info("store.writes-again")
                self.full = False
                return stored

    async def _mend(self) -> None:
        """Work the past over where something came late, once the stragglers are in."""
        loop = asyncio.get_running_loop()
        late = [line for line in self._lines.values() if line.late_from_ms is not None]
        if not late:
            return
        mark = sum(line.late_rows for line in self._lines.values())
        if self._late_since is None:
            self._late_since, self._last_late, self._late_mark = loop.time(), loop.time(), mark
        if mark != self._late_mark:
            self._last_late, self._late_mark = loop.time(), mark
        waited = loop.time() - self._late_since
        if loop.time() - self._last_late < QUIET_S and waited < PATIENCE_S:
            return
        await self.mend_now()

    async def mend_now(self) -> None:
        """Work over at once whatever came late."""
        self._late_since = None
        late = [line for line in self._lines.values() if line.late_from_ms is not None]
        for line in late:
            outcome = await self._think(partial(line.mend, self._clock.now_ms()))
            if outcome is not None:
                await self._submit(_batch(line, outcome))

    def _snapshots(self) -> tuple[tuple[str, int, bytes], ...]:
        """States due to be kept; never one that something late is still missing from."""
        due = []
        for line_id, line in self._lines.items():
            at = line.state.run.last_row_ms
            late = line.late_from_ms is not None
            if not late and at - self._snapped.get(line_id, 0) >= SNAPSHOT_EVERY_MS:
                due.append(line.snapshot())
                self._snapped[line_id] = at
        return tuple(due)

    async def _finish(self) -> None:
        try:
            async with asyncio.timeout(STOP_S):
                await self._hand_over()
        except TimeoutError:
            log.warning("store.left-behind", hint="The meters keep what was not confirmed.")
        finally:
            self._pool.shutdown(wait=True)

    async def _hand_over(self) -> None:
        await self.turn()
        await self.mend_now()
        states = tuple(line.snapshot() for line in self._lines.values())
        kept = tuple(state for state in states if state[1])
        if kept:
            await self._submit(Batch(snapshots=kept))

    async def _think(self, work: Callable[[], T]) -> T:
        """Work beside the loop; while it goes on within reason it counts as progress."""
        thought = asyncio.get_running_loop().run_in_executor(self._pool, work)
        for _ in range(LONGEST_THOUGHT_S // THOUGHT_BEAT_S):
            done, _ = await asyncio.wait((thought,), timeout=THOUGHT_BEAT_S)
            if done:
                break
            self.beats += 1
        return await thought

    def _publish(self, taken: Taken) -> None:
        if not len(taken.rows) or taken.line_id not in self._lines:
            return
        line = self._lines[taken.line_id].setup
        values = live_values(line, taken.rows)
        flow = self._flow[taken.line_id].after(line, taken.rows)
        self._live.publish(taken.line_id, int(taken.rows.at_ms[-1]), values | {FLOW: flow})


@contextlib.contextmanager
def _answering(recording: list[asyncio.Future[None]]) -> Iterator[None]:
    """Tell those who wait that the work inside is done, or how it failed."""
    fault: BaseException | None = None
    try:
        yield
    except BaseException as exc:
        fault = exc
        raise
    finally:
        for waiting in recording:
            if not waiting.done() and fault is None:
                waiting.set_result(None)
            elif not waiting.done() and isinstance(fault, Exception):
                waiting.set_exception(fault)
            else:
                waiting.cancel()


class _FlowNow:
    """Litres a minute, from the last rows that flowed."""

    def __init__(self) -> None:
        self._last_ms = 0

    def after(self, line: LineSetup, rows: Rows) -> float:
        """Flow over these rows; 0 where none counted a pulse."""
        begun = self._last_ms or int(rows.at_ms[0])
        self._last_ms = int(rows.at_ms[-1])
        pulses = int(rows.pulses[rows.pulses > 0].sum())
        seconds = max((self._last_ms - begun) / 1000.0, 1.0)
        return pulses / line.pulses_per_l / seconds * 60.0 if pulses else 0.0


def live_values(line: LineSetup, rows: Rows) -> dict[str, float]:
    """The newest value of every channel, conductivity referred to 25 C, with standard errors."""
    values: dict[str, float] = {}
    for ec25, temp, ec_column, temp_column in (
        (OUTLET_EC25, OUTLET_TEMP, rows.outlet_us_cm, rows.outlet_temp_c),
        (INLET_EC25, INLET_TEMP, rows.inlet_us_cm, rows.inlet_temp_c),
    ):
        value = float(ec_column[-1] * f25_where_defined(float(temp_column[-1])))
        if math.isfinite(value):
            values |= {ec25: value, f"{ec25}_sd": 0.03 * value}
        if math.isfinite(float(temp_column[-1])):
            values |= {temp: float(temp_column[-1]), f"{temp}_sd": 0.3}
    return values


def _gathered(lots: list[Lot], told: tuple[AnyEvent, ...]) -> Batch:
    """What the meters and the people brought this second."""
    counters: Counter[str] = Counter()
    for lot in lots:
        counters.update(lot.counters)
    states = {lot.state_key: lot.state for lot in lots}
    return Batch(
        readings=tuple(piece for lot in lots for piece in lot.taken),
        events=told,
        snapshots=tuple((key, 0, state) for key, state in states.items()),
        counters=dict(counters),
    )


def _rows_of(line_id: str, taken: list[Taken]) -> Rows:
    """All rows of a line, in order of time."""
    rows = no_rows()
    for piece in taken:
        if piece.line_id == line_id:
            rows = join_rows(rows, piece.rows)
    if len(rows) and (np.diff(rows.at_ms) <= 0).any():
        order = np.argsort(rows.at_ms, kind="stable")
        order = order[np.concatenate(([True], np.diff(rows.at_ms[order]) > 0))]
        rows = rows.pick(order)
    return rows


def _batch(line: Line, outcome: Outcome) -> Batch:
    line_id, cartridge_id = line.setup.line_id, line.state.weighing.cartridge_id
    redone = outcome.redone_from_ms
    return Batch(
        draws=((line_id, cartridge_id, outcome.draws),) if len(outcome.draws) else (),
        estimates=tuple((line_id, estimate) for estimate in outcome.estimates),
        alarms=tuple((line_id, change) for change in outcome.alarms),
        snapshots=(line.kept_watch(),) if outcome.alarms else (),
        forget_snapshots=() if redone is None else ((line_id, redone + 1),),
        forget_draws=() if redone is None else ((line_id, redone + 1),),
    )


def _one(batches: list[Batch], snapshots: tuple[tuple[str, int, bytes], ...]) -> Batch:
    """What followed for all lines as one."""
    return Batch(
        draws=tuple(d for b in batches for d in b.draws),
        estimates=tuple(e for b in batches for e in b.estimates),
        alarms=tuple(a for b in batches for a in b.alarms),
        snapshots=tuple(s for b in batches for s in b.snapshots) + snapshots,
    )
