"""A node's bytes as rows, and what to say back to it. Pure: it opens, waits for and logs nothing.

`feed` what came in, write what `answer` gives, hand on what `take` gives, and once that is on the
disk write what `confirm` gives.
"""

from __future__ import annotations

from collections import deque
from typing import TypeAlias

import numpy as np

from analytics.samples import NO_COUNT, Flag, rows_of
from firmware_bridge.firmware import frames
from firmware_bridge.readings.advice import Advice, LineWatch
from firmware_bridge.readings.agreeing import Agreement
from firmware_bridge.readings.counting import Counting
from firmware_bridge.readings.dating import Dating, Moment
from firmware_bridge.readings.lot import Lot, WireState, packed, unpacked
from firmware_bridge.readings.making import Inputs, Record, count_missing, values_of
from firmware_bridge.readings.order import Order
from firmware_bridge.store.batch import Taken

HELLO_WAIT_MS = 2000
"""Rows wait so long for the node to say what its uptime is now, then are dated without."""
BOOTS_KNOWN = 4
CONFIRM_EVERY_MS = 500
"""A node that has missed a confirmation is told again so often at most."""
ASK_AGAIN_MS = 5000
"""A node that says nothing is asked again so often: it may have been starting."""
FRESH = 3
"""A boot that is over is believed to be back after so many frames in a row."""

_Made: TypeAlias = tuple[int, int, int, Record]  # boot, seq, uptime_ms, record


class _Boot:
    """One start of the node, as the host sees it."""

    def __init__(self, boot: int, wire_ms: int, known: WireState | None = None) -> None:
        mine = known if known is not None and known.boot == boot else None
        self.boot = boot
        self.order = Order(mine.seq + 1 if mine else 1)
        self.dating = Dating(mine.offset_ms if mine else None)
        self.since_ms = wire_ms
        self.settled = mine is not None


class NodeDriver:
    """The rows of one line's node.

    `state` is what the last Lot carried, empty at the first start. `counter` (1 or 2) says which
    turbine is the line's own, `inputs` which probes are, `node` which node on the line is meant
    (0: whichever speaks). Drivers of several lines that one node feeds share `agreed`: the node is
    told to forget what all of them have.
    """

    def __init__(
        self,
        line_id: str,
        *,
        state: bytes = b"",
        node: int = 0,
        counter: int = 1,
        inputs: Inputs = "both",
        outlet_cell: float = 1.0,
        inlet_cell: float = 1.0,
        most_pulses_a_second: float = 2000.0,
        flags: Flag = Flag.GOOD,
        agreed: Agreement | None = None,
    ) -> None:
        self.line_id = line_id
        self.complaint = ""
        self.node = node
        self._only = node
        self.heard: deque[frames.Frame] = deque(maxlen=64)
        self._known = unpacked(state)
        self._counter = counter
        self._inputs = inputs
        self._agreed = agreed or Agreement()
        self._agreed.take_part(line_id)
        self._cells = (outlet_cell, inlet_cell)
        self._flags = int(flags)
        self._parser = frames.Parser()
        self._watch = LineWatch()
        self._asked_ms = 0
        self._counting = Counting(most_pulses_a_second)
        self._last_ms = 0
        self._boots: dict[int, _Boot] = {}
        self._current: _Boot | None = None
        self._candidate: list[frames.Data | frames.Hello] = []
        self._made: list[_Made] = []
        self._out: list[frames.Frame] = []
        self._wire_ms = 0
        self._frames_at_wish = 0
        self._more = {"rows": 0, "rows_stray": 0, "values_absurd": 0, "boots": 0}
        self._told: dict[str, int] = {}
        self._lost_before = {"rows_doubled": 0, "rows_lost": 0, "rows_asked": 0, "clock_steps": 0}
        self._unaware = False
        self._confirmed_ms = -CONFIRM_EVERY_MS
        if self._known is not None:
            self._agreed.note(line_id, self._known.boot, self._known.seq)
            self._last_ms = self._known.at_ms
            count, boot, at_ms = self._known.counts
            self._counting.count, self._counting.boot, self._counting.at_ms = count, boot, at_ms

    # --- in ---------------------------------------------------------------------------------

    def opened(self) -> None:
        """The line is open: ask the node who it is."""
        self._watch.opened()
        self._asked_ms = self._wire_ms
        self._out.append(frames.Ask(frames.HELLO_ASK, self.node, "host"))

    def feed(self, chunk: bytes, moment: Moment) -> None:
        """Bytes came in."""
        self._wire_ms = moment.wire_ms
        for frame in self._parser.feed(chunk):
            if self._only and frame.node != self._only:
                continue
            if isinstance(frame, frames.Data | frames.Hello):
                self._of_boot(frame, moment)
            elif isinstance(frame, frames.RowRange):
                self._hear_gone(frame)
            else:
                self._note(frame)
        counts = self._parser.counts
        self._watch.heard(len(chunk), counts["frames"], counts["other_version"], moment.wire_ms)

    def _note(self, frame: frames.Frame) -> None:
        if isinstance(frame, frames.SelfTest):
            self._watch.tested(frame.failed, frame.text)
        self.heard.append(frame)

    # --- out --------------------------------------------------------------------------------

    def answer(self, wire_ms: int) -> bytes:
        """What to write now: questions, and wishes for rows that are missing."""
        self._wire_ms = wire_ms
        current = self._current
        if self._watch.unheard and wire_ms - self._asked_ms >= ASK_AGAIN_MS:
            self._asked_ms = wire_ms
            self.say(frames.Ask(frames.HELLO_ASK, self.node, "host"))
        if current is not None:
            frames_now = self._parser.counts["frames"]
            wish = current.order.wish(wire_ms, alive=frames_now > self._frames_at_wish)
            if wish is not None:
                self._frames_at_wish = frames_now
                self.say(frames.RowRange(frames.RESEND, self.node, current.boot, *wish))
            self._confirm_again(current.boot, wire_ms)
        out = b"".join(frame.wire() for frame in self._out)
        self._out = []
        return out

    def advice(self, wire_ms: int) -> Advice | None:
        """What is wrong with the line and what to do, if anything is."""
        return self._watch.advice(wire_ms)

    def say(self, frame: frames.Frame) -> None:
        """Send this frame with the next answer."""
        self._out.append(frame)

    def take(self) -> Lot | None:
        """Rows that came in since the last time, in order; None when there are none."""
        current = self._current
        if current is not None and self._settled(current):
            self._make(current, current.order.ready())
        if not self._made:
            return None
        made, self._made = self._made, []
        self._more["rows"] += len(made)
        boot, seq, uptime_ms, _ = made[-1]
        state = WireState(
            boot=boot,
            seq=seq,
            uptime_ms=uptime_ms,
            at_ms=self._last_ms,
            offset_ms=self._sure_offset(boot),
            counts=(self._counting.count, self._counting.boot, self._counting.at_ms),
        )
        return Lot(
            line_id=self.line_id,
            taken=tuple(_taken(self.line_id, run) for run in _runs(made)),
            state=packed(state),
            counters=self._news(),
        )

    def confirm(self, boot_id: int, seq: int) -> bytes:
        """What to write once every row of the boot up to `seq` is on the disk."""
        self._agreed.note(self.line_id, boot_id, seq)
        safe = self._agreed.up_to(boot_id)
        return frames.Confirm(self.node, boot_id, safe).wire() if safe else b""

    @property
    def counts(self) -> dict[str, int]:
        """Everything counted since the start."""
        found = dict(self._more)
        found["counter_resets"] = self._counting.resets
        found["counts_absurd"] = self._counting.absurd
        for name, value in self._parser.counts.items():
            found["frames" if name == "frames" else f"frames_{name}"] = value
        found |= self._lost_before
        for boot in self._boots.values():
            found["rows_doubled"] += boot.order.doubled
            found["rows_lost"] += boot.order.lost
            found["rows_asked"] += boot.order.asked
            found["clock_steps"] += boot.dating.steps
        return found

    # --- which boot -------------------------------------------------------------------------

    def _of_boot(self, frame: frames.Data | frames.Hello, moment: Moment) -> None:
        """A boot is believed when two of its frames come in a row: one could be noise."""
        current = self._current
        if current is not None and frame.boot == current.boot:
            self._more["rows_stray"] += len(self._candidate)
            self._candidate = []
            self._hear(current, frame, moment)
            return
        if self._candidate and self._candidate[0].boot != frame.boot:
            self._more["rows_stray"] += len(self._candidate)
            self._candidate = []
        self._candidate.append(frame)
        if len(self._candidate) >= (FRESH if frame.boot in self._boots else 2):
            waiting, self._candidate = self._candidate, []
            self._switch(frame.boot, moment)
            for held in waiting:
                self._hear(self._boots[held.boot], held, moment)
        elif len(self._candidate) == 1:
            self.say(frames.Ask(frames.HELLO_ASK, frame.node, "host"))

    def _switch(self, boot: int, moment: Moment) -> None:
        if self._current is not None:
            self._make(self._current, self._current.order.close())
        if boot not in self._boots:
            self._more["boots"] += 1
            self._watch.started(moment.wire_ms)
            self._boots[boot] = _Boot(boot, moment.wire_ms, self._known)
            while len(self._boots) > BOOTS_KNOWN:
                self._forget(next(iter(self._boots)))
        self._current = self._boots[boot]
        self._unaware = False

    def _forget(self, boot: int) -> None:
        over = self._boots.pop(boot)
        self._agreed.forget(self.line_id, boot)
        self._lost_before["rows_doubled"] += over.order.doubled
        self._lost_before["rows_lost"] += over.order.lost
        self._lost_before["rows_asked"] += over.order.asked
        self._lost_before["clock_steps"] += over.dating.steps

    # --- frames -----------------------------------------------------------------------------

    def _hear(self, boot: _Boot, frame: frames.Data | frames.Hello, moment: Moment) -> None:
        self.node = frame.node
        if isinstance(frame, frames.Hello):
            boot.dating.received(frame.uptime_ms, moment)
            if self._known is None and len(self._boots) == 1 and not boot.settled:
                boot.order.begin(frame.oldest)
            boot.settled = True
            self._unaware |= frame.confirmed < self._agreed.up_to(boot.boot)
            boot.order.gone(1, frame.oldest - 1)
            boot.order.holds_up_to(frame.newest)
            self.heard.append(frame)
        elif boot.order.add(frame, moment.wire_ms):
            boot.dating.received(frame.uptime_ms, moment)
        else:
            self._unaware |= frame.seq <= self._agreed.up_to(boot.boot)

    def _confirm_again(self, boot: int, wire_ms: int) -> None:
        """The node sent what is on the disk already: it missed a confirmation."""
        if self._unaware and wire_ms - self._confirmed_ms >= CONFIRM_EVERY_MS:
            self._unaware = False
            self._confirmed_ms = wire_ms
            self.say(frames.Confirm(self.node, boot, self._agreed.up_to(boot)))

    def _hear_gone(self, told: frames.RowRange) -> None:
        boot = self._boots.get(told.boot)
        if told.kind == frames.GONE and boot is not None:
            boot.order.gone(told.first, told.last)

    def _settled(self, boot: _Boot) -> bool:
        return boot.settled or self._wire_ms - boot.since_ms >= HELLO_WAIT_MS

    # --- rows -------------------------------------------------------------------------------

    def _make(self, boot: _Boot, rows: list[frames.Data]) -> None:
        for row in rows:
            at_ms = max(boot.dating.date(row.uptime_ms), self._last_ms)
            self._last_ms = at_ms
            values = values_of(row, *self._cells, inputs=self._inputs)
            self._more["values_absurd"] += values.absurd
            flags = self._flags | values.flags
            if not boot.dating.sure:
                flags |= Flag.CLOCK_UNSURE
            pulses, more = self._count(row, at_ms)
            record = (
                at_ms,
                values.outlet_us_cm,
                values.outlet_temp_c,
                values.inlet_us_cm,
                values.inlet_temp_c,
                pulses,
                int(flags | more),
            )
            self._made.append((boot.boot, row.seq, row.uptime_ms, record))

    def _count(self, row: frames.Data, at_ms: int) -> tuple[int, int]:
        channel = frames.PULSES_1 if self._counter == 1 else frames.PULSES_2
        state = frames.channel_status(row.status, channel)
        doubt = 0 if state in (frames.GOOD, frames.NO_READING) else Flag.FLOW_SUSPECT
        if count_missing(row.status, channel):
            return NO_COUNT, doubt
        count = row.pulses_1 if self._counter == 1 else row.pulses_2
        anew = bool(row.status >> 24 & frames.NODE_COUNTS_NEW)
        counted = self._counting.next(count, row.boot, at_ms, anew=anew)
        return counted.pulses, doubt | counted.flags

    def _sure_offset(self, boot: int) -> float | None:
        known = self._boots.get(boot)
        return known.dating.offset_ms if known is not None and known.dating.sure else None

    def _news(self) -> dict[str, int]:
        now = self.counts
        news = {name: now[name] - self._told.get(name, 0) for name in now}
        self._told = now
        return {name: more for name, more in news.items() if more}


def _runs(made: list[_Made]) -> list[list[_Made]]:
    """Rows of one boot without a gap belong together."""
    runs: list[list[_Made]] = []
    for one in made:
        if runs and runs[-1][-1][:2] == (one[0], one[1] - 1):
            runs[-1].append(one)
        else:
            runs.append([one])
    return runs


def _taken(line_id: str, made: list[_Made]) -> Taken:
    return Taken(
        line_id=line_id,
        rows=rows_of([record for _, _, _, record in made]),
        boot_id=made[0][0],
        uptime_ms=np.array([uptime for _, _, uptime, _ in made], dtype=np.int64),
        frame_seq=np.array([seq for _, seq, _, _ in made], dtype=np.int64),
        frames_from=made[0][1],
    )
