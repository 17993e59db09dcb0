"""The meter node's own logic: it reads, counts, numbers, keeps and re-sends. It knows no pin.

Runs on the node (MicroPython) and on the host (CPython). The hardware stands behind four small
objects; whoever owns the line calls `receive` with what came in and writes what `step` gives out.

A row is made at the heartbeat, while water runs every few seconds, and when a channel's status
changes. Each row is sent once at once and stays in a ring. What the host has not confirmed after a
while is sent again, oldest first and paced, so that new rows never wait for old ones.
"""

from firmware_bridge.firmware import frames, wires
from firmware_bridge.firmware.keep import Keep
from firmware_bridge.firmware.parts import INLET, OUTLET, Conductivity, Memory, Pulses, Thermometer
from firmware_bridge.firmware.ring import Resend, Ring

KEEP_MS = 10000
"""Pulses wait no longer than this for the memory that outlives a power cut."""
ANSWERS_MOST = 16


def _held(value: int, least: int) -> int:
    """A value as a frame can carry it, held inside 32 bits."""
    return min(max(value, least), least + 0xFFFFFFFF)


class Node:
    """One node from its start on. `chance` is any number that differs from start to start."""

    def __init__(
        self,
        conductivity: Conductivity,
        thermometer: Thermometer,
        pulses: Pulses,
        memory: Memory,
        chance: int,
        ring_rows: int = 512,
        text: str = "meter node",
        status: int = 0,
    ) -> None:
        self._conductivity = conductivity
        self._thermometer = thermometer
        self._pulses = pulses
        self._memory = memory
        self._text = text
        self._keep = Keep(memory)
        self._node_status = status | (frames.NODE_COUNTS_NEW if self._keep.new else 0)
        self._keep.starts = (self._keep.starts + 1) & 0xFFFF
        self._keep.save()
        self.boot = (self._keep.starts << 16) | (chance & 0xFFFF)
        self._seen = [pulses.count(0), pulses.count(1)]
        self._ring = Ring(ring_rows)
        self._resend = Resend(self._ring)
        self._parser = frames.Parser()
        self._answers = []  # type: list[frames.Frame]
        self._now_ms = 0
        self._row_ms = -1
        self._row_status = 0
        self._row_wanted = False
        self._row_counts = [0, 0]
        self._unkept_ms = -1
        self._say(self._hello())

    def setting(self, key: str) -> int:
        """The value in force of a setting."""
        return self._keep.setting(key)

    def newest(self) -> int:
        """Number of the newest row."""
        return self._ring.newest

    def confirmed(self) -> int:
        """Number up to which the host has confirmed."""
        return self._resend.confirmed

    def counted(self, meter: int) -> int:
        """Pulses of meter 0 or 1, counted for ever."""
        return self._keep.counts[meter]

    def receive(self, chunk: bytes, line_ms: int) -> None:
        """Bytes came in on the line."""
        for frame in self._parser.feed(chunk):
            if frame.node in (0, self._keep.setting("node")):
                self._resend.heard_ms = line_ms
                self._hear(frame, line_ms)

    def step(self, now_ms: int, line_ms: "int | None" = None) -> bytes:
        """Read, count and give out what is to be written now.

        `now_ms` is the time since the start; it stamps rows. `line_ms` paces what is sent again,
        where the line lives at another pace than the water (a simulated life); else it is `now_ms`.
        """
        line = now_ms if line_ms is None else line_ms
        self._now_ms = now_ms
        self._count(now_ms)
        row = self._row_if_due(now_ms)
        if row:
            self._resend.row_made(line)
        return row + self.serve(line)

    def serve(self, line_ms: int) -> bytes:
        """Answers to the host, and old rows whose turn it is; reads no meter."""
        out = [frame.wire() for frame in self._answers]
        self._answers = []
        after, gap = self._keep.setting("resend-after-ms"), self._keep.setting("resend-gap-ms")
        for seq in self._resend.due(line_ms, after, gap):
            out.append(wires.wrap(self._ring.get(seq)))  # noqa: PERF401 - small memory
        return b"".join(out)

    def test(self) -> None:
        """Test every part, and say what came of it in a frame and in the rows."""
        faults = [self._conductivity.check(), self._thermometer.check(), self._pulses.check()]
        self._save()
        faults.append("" if not Keep(self._memory).new else "memory does not keep")
        failed = 0
        for part in range(len(faults)):
            if faults[part]:
                failed |= 1 << part
        self._node_status &= ~frames.NODE_SELFTEST
        if failed:
            self._node_status |= frames.NODE_SELFTEST
        self._say(
            frames.SelfTest(
                self._keep.setting("node"),
                self.boot,
                self._now_ms,
                15,
                failed,
                ", ".join([fault for fault in faults if fault]),
            )
        )

    def next_row_ms(self) -> int:
        """When the next row is due if no more water runs."""
        if self._row_ms < 0:
            return 0
        heartbeat_ms = self._keep.setting("heartbeat-ms")
        if self._keep.counts != self._row_counts:
            return self._row_ms + min(self._keep.setting("draw-ms"), heartbeat_ms)
        return self._row_ms + heartbeat_ms

    def _say(self, frame: frames.Frame) -> None:
        """Answer at the next turn; a host that asks for too much at once is not answered."""
        if len(self._answers) < ANSWERS_MOST:
            self._answers.append(frame)

    def _count(self, now_ms: int) -> None:
        for meter in (0, 1):
            count = self._pulses.count(meter)
            more = (count - self._seen[meter]) & self._pulses.mask
            if more:
                self._seen[meter] = count
                self._keep.counts[meter] = (self._keep.counts[meter] + more) & 0xFFFFFFFF
                self._unkept_ms = now_ms if self._unkept_ms < 0 else self._unkept_ms
        if self._unkept_ms >= 0:
            self._keep.note()
            if now_ms - self._unkept_ms >= KEEP_MS:
                self._save()

    def _save(self) -> None:
        self._keep.save()
        self._unkept_ms = -1

    def _row_if_due(self, now_ms: int) -> bytes:
        """The new row as it goes on the line; empty when none is due."""
        values, status = self._read()
        since = now_ms - self._row_ms
        draw_ms = self._keep.setting("draw-ms")
        due = (
            self._row_ms < 0
            or since >= self._keep.setting("heartbeat-ms")
            or (since >= draw_ms and self._keep.counts != self._row_counts)
            or (since >= min(draw_ms, 1000) and (status != self._row_status or self._row_wanted))
        )
        if not due:
            return b""
        self._row_ms = now_ms
        self._row_wanted = False
        self._row_status = status
        self._row_counts = list(self._keep.counts)
        return wires.wrap(self._make_row(now_ms, status, values))

    def _read(self) -> "tuple[list[int], int]":
        values = []  # type: list[int]
        status = self._node_status << 24
        for probe in (OUTLET, INLET):
            value, state = self._conductivity.read(probe)
            status |= self._put(values, value, state, 0)
            value, state = self._thermometer.read(probe)
            status |= self._put(values, value, state, -0x80000000)
        return values, status

    def _put(self, values: "list[int]", value: "int | None", state: int, least: int) -> int:
        """Add a channel's value; its status bits in their place."""
        if value is None and state not in (frames.NO_READING, frames.FAULT):
            state = frames.NO_READING
        place = 4 * len(values)
        values.append(0 if value is None else _held(value, least))
        return state << place

    def _make_row(self, now_ms: int, status: int, values: "list[int]") -> bytes:
        if self._unkept_ms >= 0:
            self._save()  # before a row tells the host, so that no count is ever taken back
        if self._ring.newest >= self._ring.rows and self._ring.oldest() > self._resend.confirmed:
            self._node_status |= frames.NODE_ROWS_LOST
        body = frames.Data(
            self._keep.setting("node"),
            self.boot,
            self._ring.newest + 1,
            now_ms,
            status,
            values[0],
            values[1],
            values[2],
            values[3],
            self._keep.counts[0],
            self._keep.counts[1],
        ).pack()
        self._ring.put(body)
        return body

    def _hear(self, frame: frames.Frame, line_ms: int) -> None:
        if isinstance(frame, frames.Confirm):
            if frame.boot == self.boot:
                self._resend.confirm(frame.seq, line_ms)
                if self._resend.confirmed == self._ring.newest:
                    self._node_status &= ~frames.NODE_ROWS_LOST
        elif isinstance(frame, frames.RowRange):
            self._hear_resend(frame)
        elif isinstance(frame, frames.Setup):
            if frame.kind == frames.SETUP:
                self._say(self._set(frame.key, frame.value))
        elif frame.kind == frames.HELLO_ASK:
            self._say(self._hello())
            self._row_wanted = self._keep.setting("row-for-hello") == 1
        elif frame.kind == frames.SELFTEST_ASK:
            self.test()

    def _hear_resend(self, wish: frames.RowRange) -> None:
        if wish.kind != frames.RESEND or wish.first > wish.last:
            return
        oldest = self._ring.oldest() if wish.boot == self.boot else 0xFFFFFFFF
        if wish.first < oldest:
            last = min(wish.last, oldest - 1)
            node = self._keep.setting("node")
            self._say(frames.RowRange(frames.GONE, node, wish.boot, wish.first, last))
        if wish.boot == self.boot and oldest <= wish.last and wish.first <= self._ring.newest:
            first = max(wish.first, oldest)
            self._resend.ask(first, min(wish.last, self._ring.newest))

    def _hello(self) -> frames.Frame:
        return frames.Hello(
            self._keep.setting("node"),
            self.boot,
            self._now_ms,
            self._ring.oldest(),
            self._ring.newest,
            self._resend.confirmed,
            self._text,
        )

    def _set(self, key: str, value: str) -> frames.Frame:
        place = self._keep.place(key)
        result = frames.SETUP_DONE
        if place < 0:
            result = frames.SETUP_NO_SUCH_KEY
        elif value and not self._keep.change(place, value):
            result = frames.SETUP_BAD_VALUE
        shown = "" if place < 0 else str(self._keep.settings[place])
        return frames.Setup(frames.SETUP_ANSWER, self._keep.setting("node"), result, key, shown)
