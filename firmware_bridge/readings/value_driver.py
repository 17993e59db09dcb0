"""Meters that say values, not frames: what they say as rows of a line. Pure, like the node's.

A decoder turns the link's bytes into `Heard`; this driver dates them, holds the values against what
can be, counts the counter on, and hands on rows.
"""

from __future__ import annotations

import zlib
from collections import Counter
from math import nan
from typing import Protocol

import msgspec
import numpy as np

from analytics.samples import NO_COUNT, Flag, rows_of
from firmware_bridge.readings.channels import VALUE_CHANNELS, shown
from firmware_bridge.readings.counting import WRAP, Counting
from firmware_bridge.readings.dating import Moment
from firmware_bridge.readings.lot import Lot
from firmware_bridge.readings.making import Record
from firmware_bridge.store.batch import NO_FRAME, Taken

BOOT_FROM = 1 << 20
"""Boots of meters that have none are numbered from here on, beyond those of any node."""
MOST_L_MIN = 60.0
"""No line behind one cartridge flows faster (common practice, no source)."""
KEPT_MOST = 50_000
"""Rows held while nobody takes them over; beyond, the oldest are dropped and counted."""
FUTURE_MS = 120_000
"""A meter's own time may be so far ahead of the site's clock."""


class Heard(msgspec.Struct, frozen=True, kw_only=True):
    """What a meter said at one instant: values by column, a running count or pulses since before.

    `at_ms` is the meter's own time, where it has one. `flags` are doubts the meter or the decoder
    has.
    """

    values: dict[str, float] = {}
    count: int | None = None
    pulses: int | None = None
    at_ms: int | None = None
    flags: Flag = Flag.GOOD


class Decoder(Protocol):
    """Bytes of one kind of meter as what it said. It waits for nothing and raises nothing."""

    def opened(self) -> None:
        """The link was opened (again): half a message is none."""
        ...

    def decode(self, chunk: bytes) -> list[Heard]:
        """What these bytes say; what cannot be used is counted and complained of."""
        ...

    @property
    def counts(self) -> dict[str, int]:
        """What was refused so far, by name."""
        ...

    @property
    def complaint(self) -> str:
        """The newest sentence for a person; empty where there is nothing to say."""
        ...


class CounterKind(msgspec.Struct, frozen=True, kw_only=True):
    """How a counter counts: it begins anew after `wrap` - 1, one count is `pulses_each` pulses of
    the line's flow meter; `most_a_second` counts is more than can be."""

    wrap: int = WRAP
    pulses_each: float = 1.0
    most_a_second: float = 2000.0


def counter_of(
    pulses_per_l: float, litres_each: float | None = None, wrap: int = WRAP
) -> CounterKind:
    """A counter on a line with this K-factor; `litres_each` where it counts water, not pulses."""
    a_litre = pulses_per_l if litres_each is None else 1.0 / litres_each
    return CounterKind(
        wrap=wrap,
        pulses_each=1.0 if litres_each is None else litres_each * pulses_per_l,
        most_a_second=max(MOST_L_MIN / 60.0 * a_litre, 1.0),
    )


class ValueState(msgspec.Struct, frozen=True, kw_only=True):
    """Where a meter's rows have been handed on to."""

    at_ms: int = 0
    count: int | None = None
    count_ms: int = 0
    rest: float = 0.0
    """Part of a pulse that was counted and not yet handed on."""


class ValueDriver:
    """The rows of one meter of a line. `state` is what its last Lot carried."""

    def __init__(
        self,
        line_id: str,
        meter_id: str,
        decoder: Decoder,
        *,
        state: bytes = b"",
        counter: CounterKind | None = None,
        flags: Flag = Flag.GOOD,
        own_time: bool = False,
    ) -> None:
        self.line_id = line_id
        self.complaint = ""
        self._boot_id = BOOT_FROM + zlib.crc32(f"{line_id}/{meter_id}".encode())
        self._decoder = decoder
        self._flags = flags
        self._own_time = own_time
        known = _unpacked(state)
        self._last_ms = known.at_ms
        self._rest = known.rest
        counter = counter or CounterKind()
        self._each = counter.pulses_each
        self._counting = Counting(counter.most_a_second, counter.wrap)
        self._counting.count, self._counting.at_ms = known.count, known.count_ms
        self._made: list[tuple[int, Record]] = []
        self._more: Counter[str] = Counter()
        self._told: dict[str, int] = {}

    def opened(self) -> None:
        """The link is open."""
        self._decoder.opened()

    def feed(self, chunk: bytes, moment: Moment) -> None:
        """Bytes came in."""
        before = self._decoder.complaint
        for heard in self._decoder.decode(chunk):
            self._make(heard, moment)
        if self._decoder.complaint and self._decoder.complaint != before:
            self.complaint = self._decoder.complaint
        if len(self._made) > KEPT_MOST:
            self._more["rows_dropped"] += len(self._made) - KEPT_MOST
            del self._made[:-KEPT_MOST]

    def answer(self, wire_ms: int) -> bytes:
        """These meters are asked by their links, or speak by themselves."""
        return b""

    def take(self) -> Lot | None:
        """Rows since the last time; None where there are none."""
        made, self._made = self._made, []
        news = self._news()
        if not made and not news:
            return None
        state = ValueState(
            at_ms=self._last_ms,
            count=self._counting.count,
            count_ms=self._counting.at_ms,
            rest=self._rest,
        )
        return Lot(
            line_id=self.line_id,
            taken=(self._taken(made),) if made else (),
            state=msgspec.json.encode(state),
            counters=news,
        )

    def confirm(self, boot_id: int, seq: int) -> bytes:
        """Nothing to tell the meter: it keeps no rows."""
        return b""

    @property
    def counts(self) -> dict[str, int]:
        """Everything counted since the start."""
        found = dict(self._more) | self._decoder.counts
        found |= {"counts_absurd": self._counting.absurd}
        return {name: value for name, value in found.items() if value}

    def _taken(self, made: list[tuple[int, Record]]) -> Taken:
        return Taken(
            line_id=self.line_id,
            rows=rows_of([record for _, record in made]),
            boot_id=self._boot_id,
            uptime_ms=np.array([wire for wire, _ in made], dtype=np.int64),
            frame_seq=np.full(len(made), NO_FRAME, dtype=np.int64),
        )

    def _make(self, heard: Heard, moment: Moment) -> None:
        at_ms = self._dated(heard, moment)
        if at_ms is None:
            return
        self._last_ms = at_ms
        values, flags = self._judged(heard, self._flags | heard.flags)
        if not moment.sane and not (self._own_time and heard.at_ms is not None):
            flags |= Flag.CLOCK_UNSURE
        pulses, doubt = self._counted(heard, at_ms)
        outlet_us_cm, outlet_c, inlet_us_cm, inlet_c = values
        record = (at_ms, outlet_us_cm, outlet_c, inlet_us_cm, inlet_c, pulses, int(flags | doubt))
        self._made.append((moment.wire_ms, record))
        self._more["rows"] += 1

    def _dated(self, heard: Heard, moment: Moment) -> int | None:
        """The row's instant; None for a row that is here already or that cannot be dated."""
        if heard.at_ms is None:
            return max(moment.now_ms, self._last_ms + 1)
        if moment.sane and heard.at_ms > moment.now_ms + FUTURE_MS:
            self._more["rows_ahead_of_time"] += 1
            self.complaint = (
                "The meter's own time is ahead of this machine's: set its clock, "
                "or leave the time option out."
            )
            return None
        if heard.at_ms <= self._last_ms:
            self._more["rows_doubled"] += 1
            return None
        return heard.at_ms

    def _judged(self, heard: Heard, flags: Flag) -> tuple[tuple[float, ...], Flag]:
        found = []
        for channel in VALUE_CHANNELS:
            value = heard.values.get(channel.column, nan)
            if channel.column in heard.values and not channel.possible(value):
                flags |= channel.suspect
                if value == value:
                    self._more["values_absurd"] += 1
                    self._no_such_value(channel.word, shown(channel, value))
                value = nan
            found.append(value)
        return tuple(found), flags

    def _no_such_value(self, word: str, value: str) -> None:
        if not self._decoder.complaint:
            self.complaint = f"{word}: {value} cannot be; check the meter's range and its unit."

    def _counted(self, heard: Heard, at_ms: int) -> tuple[int, Flag]:
        if heard.count is None:
            return (NO_COUNT if heard.pulses is None else heard.pulses), Flag.GOOD
        counted = self._counting.next(heard.count, 0, at_ms)
        if self._counting.jumped is not None:
            before, now = self._counting.jumped
            self._counting.jumped = None
            self.complaint = (
                f"The counter jumped from {before} to {now}; it is counted on from there. "
                "If the meter was replaced, note it as a dated meter-replaced entry."
            )
        if counted.pulses < 0:
            return NO_COUNT, counted.flags
        whole, self._rest = divmod(counted.pulses * self._each + self._rest, 1.0)
        return int(whole), counted.flags

    def _news(self) -> dict[str, int]:
        now = self.counts
        news = {name: now[name] - self._told.get(name, 0) for name in now}
        self._told = now
        return {name: more for name, more in news.items() if more}


def _unpacked(state: bytes) -> ValueState:
    try:
        return msgspec.json.decode(state, type=ValueState) if state else ValueState()
    except (msgspec.DecodeError, msgspec.ValidationError):
        return ValueState()
