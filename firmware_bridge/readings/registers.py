"""Modbus registers as values: number types, orders of words and bytes, currents of 4-20 mA. Pure.

A value that cannot be, where the same bits in another order can, is most likely a wrong order in
the site file: the complaint says which one would fit.
"""

from __future__ import annotations

import math
import struct
from collections import Counter
from collections.abc import Iterator
from typing import Final, Literal, TypeAlias

import msgspec

from analytics.samples import Flag
from firmware_bridge.links.modbus import Read
from firmware_bridge.readings.channels import BY_WORD, Channel, shown
from firmware_bridge.readings.value_driver import Heard

NumberType: TypeAlias = Literal["int16", "uint16", "int32", "uint32", "float32"]
Order: TypeAlias = Literal["high-first", "low-first"]

FORMATS: Final = {"int16": "h", "uint16": "H", "int32": "i", "uint32": "I", "float32": "f"}
MOST_AT_ONCE: Final = 125
"""Modbus application protocol 1.1b3, 6.3: registers in one question."""

LOWEST_MA, HIGHEST_MA = 3.8, 20.5
"""NAMUR NE 43: between them the current is a measurement."""
BROKEN_MA, SHORT_MA = 3.6, 21.0
"""NAMUR NE 43: at or below, at or above them the transmitter reports a failure."""

FITS_RUNNING = 5
"""Readings running in which another order fits before it is believed."""

CODES: Final = {
    1: ("does not know this question", "Set function to the other one: input or holding."),
    2: (
        "has no such register",
        "Many manuals count from 1, Modbus from 0: try an address one less; and check function.",
    ),
    3: ("refuses the number of registers", "Check type: 32 bits are two registers."),
    4: ("reports a failure of its own", "Look at the device."),
    6: ("is busy", "Ask less often: raise every."),
    10: ("cannot be reached by the gateway", "Check the gateway's settings."),
    11: ("does not answer the gateway", "Check the unit number and the wiring behind the gateway."),
}
"""Modbus application protocol 1.1b3, chapter 7."""


class Span(msgspec.Struct, frozen=True, kw_only=True):
    """What 4 mA and 20 mA stand for, in the channel's base unit."""

    at_4_ma: float
    at_20_ma: float

    def value(self, current_ma: float) -> float:
        """The measured value of a current."""
        return self.at_4_ma + (self.at_20_ma - self.at_4_ma) * (current_ma - 4.0) / 16.0


class Slot(msgspec.Struct, frozen=True, kw_only=True):
    """One register (or pair) and what it stands for.

    The number times `scale` plus `offset` is in the unit that `factor` and `shift` bring to the
    channel's base unit; with a `span` it is a current in mA.
    """

    word: str
    unit: int
    function: Literal["input", "holding"]
    address: int
    type: NumberType
    word_order: Order
    byte_order: Order
    scale: float = 1.0
    offset: float = 0.0
    factor: float = 1.0
    shift: float = 0.0
    span: Span | None = None

    @property
    def registers(self) -> int:
        """How many registers it takes."""
        return 2 if self.type.endswith("32") else 1

    @property
    def place(self) -> str:
        """Where it is, for a message."""
        return f"{self.word} (unit {self.unit}, {self.function} register {self.address})"


def reads_of(slots: tuple[Slot, ...]) -> tuple[Read, ...]:
    """Questions that fetch all slots: neighbours together, never across a gap, which some devices
    refuse."""
    reads: list[Read] = []
    for slot in sorted(slots, key=lambda s: (s.unit, s.function, s.address)):
        last = reads[-1] if reads else None
        end = slot.address + slot.registers
        if (
            last is not None
            and (last.unit, last.function) == (slot.unit, slot.function)
            and slot.address <= last.address + last.count
            and end - last.address <= MOST_AT_ONCE
        ):
            count = max(last.count, end - last.address)
            reads[-1] = msgspec.structs.replace(last, count=count)
        else:
            reads.append(
                Read(unit=slot.unit, function=slot.function, address=slot.address,
                     count=slot.registers)
            )  # fmt: skip
    return tuple(reads)


def number(registers: list[int], kind: NumberType, word_order: Order, byte_order: Order) -> float:
    """The number in one or two registers."""
    words = registers if word_order == "high-first" else registers[::-1]
    data = b"".join(
        word.to_bytes(2, "big" if byte_order == "high-first" else "little") for word in words
    )
    found: float = struct.unpack(">" + FORMATS[kind], data)[0]
    return found


class RegisterDecoder:
    """Rounds of a `ModbusLine` as what the meter said."""

    def __init__(self, slots: tuple[Slot, ...]) -> None:
        self._slots = slots
        self._reads = reads_of(slots)
        self._counts: Counter[str] = Counter()
        self._rest = b""
        self._fit: dict[str, int] = {}
        self._wrong: dict[str, str] = {}

    @property
    def reads(self) -> tuple[Read, ...]:
        """What the line is to ask."""
        return self._reads

    @property
    def counts(self) -> dict[str, int]:
        """What was refused so far."""
        return dict(self._counts)

    @property
    def complaint(self) -> str:
        """A sentence for each channel that has something wrong now."""
        return " ".join(self._wrong.values())

    def opened(self) -> None:
        """A new round begins."""
        self._rest = b""

    def decode(self, chunk: bytes) -> list[Heard]:
        """Each whole round as one row."""
        *lines, self._rest = (self._rest + chunk).split(b"\n")
        return [self._heard(msgspec.json.decode(line)) for line in lines]

    def _heard(self, answers: list[object]) -> Heard:
        values: dict[str, float] = {}
        count: int | None = None
        flags = Flag.GOOD
        self._wrong = {}
        for slot, registers in self._picked(answers):
            channel = BY_WORD.get(slot.word)
            if channel is None:
                flags |= Flag.GOOD if registers else Flag.FLOW_SUSPECT
                count = _count(slot, registers) if registers else None
                continue
            value, doubt = self._value(slot, channel, registers)
            values[channel.column] = value
            flags |= doubt
        return Heard(values=values, count=count, flags=flags)

    def _picked(self, answers: list[object]) -> Iterator[tuple[Slot, list[int] | None]]:
        """Each slot with its registers; None where its unit gave none."""
        for slot in self._slots:
            for read, answer in zip(self._reads, answers, strict=True):
                begin = slot.address - read.address
                mine = (read.unit, read.function) == (slot.unit, slot.function)
                if not mine or not 0 <= begin <= read.count - slot.registers:
                    continue
                if isinstance(answer, list):
                    yield slot, answer[begin : begin + slot.registers]
                else:
                    self._refused(slot, answer)
                    yield slot, None
                break

    def _refused(self, slot: Slot, answer: object) -> None:
        code = answer.get("code") if isinstance(answer, dict) else None
        if code is None:
            self._counts["answers_missing"] += 1
            self._wrong[slot.word] = (
                f"{slot.place}: the unit does not answer. Check its number, baud and wiring."
            )
            return
        self._counts["answers_refused"] += 1
        what, mend = CODES.get(code, (f"answers with exception {code}", "See its manual."))
        self._wrong[slot.word] = f"{slot.place}: the unit {what} (exception {code}). {mend}"

    def _value(
        self, slot: Slot, channel: Channel, registers: list[int] | None
    ) -> tuple[float, Flag]:
        if registers is None:
            return math.nan, channel.suspect
        if slot.span is not None:
            return self._of_current(slot, slot.span, channel, registers)
        value = _based(slot, _raw(slot, registers))
        swapped = self._doubt_order(slot, channel, registers, value)
        if not channel.possible(value):
            self._counts["values_absurd"] += 1
            return math.nan, channel.suspect
        return value, channel.suspect if swapped else Flag.GOOD

    def _of_current(
        self, slot: Slot, span: Span, channel: Channel, registers: list[int]
    ) -> tuple[float, Flag]:
        current = _raw(slot, registers) * slot.scale + slot.offset
        if current <= BROKEN_MA or current >= SHORT_MA or math.isnan(current):
            self._counts["currents_failed"] += 1
            way = "broken wire or no supply" if current <= BROKEN_MA else "short or failure"
            self._wrong[slot.word] = (
                f"{slot.place}: {current:.3g} mA is the transmitter's failure signal "
                f"({way}; NAMUR NE 43). Check its wiring and its own display."
            )
            return math.nan, channel.suspect
        if not LOWEST_MA <= current <= HIGHEST_MA:
            self._counts["currents_out_of_range"] += 1
            self._wrong[slot.word] = (
                f"{slot.place}: {current:.4g} mA is outside 3.8-20.5 mA: the water is out of the "
                "range the transmitter is set to. Set a wider range there and here."
            )
            return _clipped(span.value(current), channel), channel.suspect
        return _clipped(span.value(current), channel), Flag.GOOD

    def _doubt_order(
        self, slot: Slot, channel: Channel, registers: list[int], value: float
    ) -> bool:
        """Whether another order of words and bytes fits where this one gives no water's value.

        By chance another order gives a likely value now and then, never several times running.
        """
        fitting = [] if channel.likely(value) or value == 0.0 else _fitting(slot, registers)
        running = self._fit.get(slot.word, 0) + 1 if fitting else 0
        self._fit[slot.word] = running
        if running >= FITS_RUNNING:
            self._counts["orders_doubted"] += 1
            words, octets, other = fitting[0]
            self._wrong[slot.word] = (
                f"{slot.place} reads {shown(channel, value)}, which is no drinking water; with "
                f'word_order = "{words}", byte_order = "{octets}" it would be '
                f"{shown(channel, other)}: most likely the orders are swapped."
            )
        elif not channel.possible(value) and not fitting:
            self._wrong[slot.word] = (
                f"{slot.place} reads {shown(channel, value)}, which cannot be. "
                "Check address, type, scale and measured_in."
            )
        return running >= FITS_RUNNING


def _fitting(slot: Slot, registers: list[int]) -> list[tuple[Order, Order, float]]:
    """Orders of words and bytes in which these registers are a likely value."""
    channel, found = BY_WORD[slot.word], []
    for words, octets in _other_orders(slot):
        other = _based(slot, number(registers, slot.type, words, octets))
        if channel.likely(other):
            found.append((words, octets, other))
    return found


def _other_orders(slot: Slot) -> Iterator[tuple[Order, Order]]:
    """The other orders, the likeliest first: words swapped."""
    orders: tuple[Order, Order] = ("high-first", "low-first")
    swapped = {"high-first": orders[1], "low-first": orders[0]}
    if slot.registers == 2:
        yield swapped[slot.word_order], slot.byte_order
    yield slot.word_order, swapped[slot.byte_order]
    if slot.registers == 2:
        yield swapped[slot.word_order], swapped[slot.byte_order]


def _raw(slot: Slot, registers: list[int]) -> float:
    return number(registers, slot.type, slot.word_order, slot.byte_order)


def _count(slot: Slot, registers: list[int]) -> int | None:
    """A counter as a whole number; None where the bits are no number."""
    found = _raw(slot, registers) * slot.scale
    return round(found) if math.isfinite(found) else None


def _based(slot: Slot, raw: float) -> float:
    return (raw * slot.scale + slot.offset) * slot.factor + slot.shift


def _clipped(value: float, channel: Channel) -> float:
    """A current just under 4 mA stands for just under the lowest value, which for conductivity
    would be less than nothing."""
    return max(value, channel.low)
