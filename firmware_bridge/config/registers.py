"""Registers of a Modbus meter as a site file states them, one table a channel."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, Literal

import msgspec

from firmware_bridge.config import kinds
from firmware_bridge.config.readers import asks, linear_unit, quantity, ratio, whole
from firmware_bridge.config.water_meter import WaterMeter
from firmware_bridge.config.wiring import OwnFault
from firmware_bridge.readings.channels import COUNT
from firmware_bridge.readings.registers import NumberType, Order, Slot, Span

SCALE = ratio(-1e9, 1e9)
UNIT = whole(1, 247)
EVERY = quantity(kinds.SPAN_S, low=0.05, high=3600.0)
ANSWER = quantity(kinds.SPAN_S, low=0.02, high=60.0)


class Register(msgspec.Struct, frozen=True, kw_only=True):
    """Where a number stands and how it is written there."""

    address: Annotated[
        int,
        asks(
            "Address as Modbus counts, from 0 (a manual's 30001 or 40001 is 0).",
            whole(0, 65_535),
            example="0",
            live=True,
        ),
    ]
    unit: Annotated[
        int | None, asks("Unit number, where it is not the meter's.", UNIT, example="2")
    ] = None
    function: Annotated[
        Literal["input", "holding"],
        asks("Input registers (function 4) or holding registers (function 3).", example='"input"'),
    ] = "input"
    type: Annotated[NumberType, asks("What number it is.", example='"uint16"')] = "uint16"
    word_order: Annotated[
        Order, asks("Which of two registers comes first.", example='"high-first"')
    ] = "high-first"
    byte_order: Annotated[
        Order, asks("Which byte of a register comes first.", example='"high-first"')
    ] = "high-first"
    scale: Annotated[float, asks("Times this.", SCALE, example="1.0")] = 1.0


class CountRegister(Register, frozen=True, kw_only=True):
    """The register of a counter that counts for ever."""


class ValueRegister(Register, frozen=True, kw_only=True):
    """A register with a value."""

    offset: Annotated[float, asks("Then plus this.", SCALE, example="0.0")] = 0.0


class ConductivityRegister(ValueRegister, frozen=True, kw_only=True):
    """A register with a conductivity, or with the current of its transmitter."""

    measured_in: Annotated[
        tuple[float, float],
        asks(
            "Unit of the number (after scale and offset).",
            linear_unit(kinds.CONDUCTIVITY),
            example='"uS/cm"',
        ),
    ] = (1.0, 0.0)
    at_4_ma: Annotated[
        float | None,
        asks(
            "The number is a current in mA: what 4 mA stands for.",
            quantity(kinds.CONDUCTIVITY),
            example='"0 uS/cm"',
        ),
    ] = None
    at_20_ma: Annotated[
        float | None,
        asks("What 20 mA stands for.", quantity(kinds.CONDUCTIVITY), example='"2000 uS/cm"'),
    ] = None


class TemperatureRegister(ValueRegister, frozen=True, kw_only=True):
    """A register with a temperature, or with the current of its transmitter."""

    measured_in: Annotated[
        tuple[float, float],
        asks(
            "Unit of the number (after scale and offset).",
            linear_unit(kinds.TEMPERATURE),
            example='"degC"',
        ),
    ] = (1.0, 0.0)
    at_4_ma: Annotated[
        float | None,
        asks(
            "The number is a current in mA: what 4 mA stands for.",
            quantity(kinds.TEMPERATURE, low=-60.0),
            example='"0 °C"',
        ),
    ] = None
    at_20_ma: Annotated[
        float | None,
        asks("What 20 mA stands for.", quantity(kinds.TEMPERATURE, high=500.0), example='"50 °C"'),
    ] = None


class RegisterMap(WaterMeter, frozen=True, kw_only=True):
    """What every Modbus meter states: how often, and a table for each channel it has."""

    every_s: Annotated[float, asks("How often it is asked.", EVERY, example='"2 s"')] = (
        msgspec.field(name="every", default=2.0)
    )
    answer_s: Annotated[float, asks("How long an answer may take.", ANSWER, example='"0.5 s"')] = (
        msgspec.field(name="answer_within", default=0.5)
    )
    unit: Annotated[int, asks("Unit number of the device, as set on it.", UNIT, example="1")] = 1
    outlet_conductivity: Annotated[
        ConductivityRegister | None, asks("The outlet probe's conductivity.")
    ] = None
    outlet_temperature: Annotated[
        TemperatureRegister | None, asks("The outlet water's temperature.")
    ] = None
    inlet_conductivity: Annotated[
        ConductivityRegister | None, asks("The inlet probe's conductivity.")
    ] = None
    inlet_temperature: Annotated[
        TemperatureRegister | None, asks("The inlet water's temperature.")
    ] = None
    flow_count: Annotated[
        CountRegister | None,
        asks("The flow meter's counter; what one count stands for is the meter's pulse_value."),
    ] = None

    def own_faults(self) -> tuple[OwnFault, ...]:
        """No channel at all, half a span, a span that is none."""
        return (*super().own_faults(), *self._map_faults())

    def _map_faults(self) -> Iterator[OwnFault]:
        registers = self.registers()
        if not registers:
            mend = "Add a table such as [meter.outlet_conductivity] with address = 0 below it."
            yield OwnFault(key=COUNT, problem="this meter has no channel", mend=mend)
        for word, register in registers.items():
            if not isinstance(register, ConductivityRegister | TemperatureRegister):
                continue
            low, high = register.at_4_ma, register.at_20_ma
            if (low is None) != (high is None):
                missing = "at_4_ma" if low is None else "at_20_ma"
                mend = "A current needs both at_4_ma and at_20_ma."
                yield OwnFault(key=f"{word}.{missing}", problem="missing", mend=mend)
            elif low is not None and low == high:
                yield OwnFault(
                    key=f"{word}.at_20_ma", problem="the same as at_4_ma", mend="See the plate."
                )

    def registers(self) -> dict[str, Register]:
        """The tables that are stated, by channel."""
        stated = {
            "outlet_conductivity": self.outlet_conductivity,
            "outlet_temperature": self.outlet_temperature,
            "inlet_conductivity": self.inlet_conductivity,
            "inlet_temperature": self.inlet_temperature,
            COUNT: self.flow_count,
        }
        return {word: register for word, register in stated.items() if register is not None}

    def slots(self) -> tuple[Slot, ...]:
        """The same, as the decoder wants it."""
        return tuple(self._slot(word, register) for word, register in self.registers().items())

    def _slot(self, word: str, register: Register) -> Slot:
        span, offset, factor, shift = None, 0.0, 1.0, 0.0
        if isinstance(register, ConductivityRegister | TemperatureRegister):
            offset, (factor, shift) = register.offset, register.measured_in
            if register.at_4_ma is not None and register.at_20_ma is not None:
                span = Span(at_4_ma=register.at_4_ma, at_20_ma=register.at_20_ma)
        return Slot(
            word=word,
            unit=register.unit or self.unit,
            function=register.function,
            address=register.address,
            type=_counter_type(register) if word == COUNT else register.type,
            word_order=register.word_order,
            byte_order=register.byte_order,
            scale=register.scale,
            offset=offset,
            factor=factor,
            shift=shift,
            span=span,
        )

    def wrap(self) -> int:
        """After how many counts the counter begins anew: its register's bits, or as stated."""
        if self.counts_to is not None:
            return self.counts_to
        register = self.flow_count
        top = 1 << (16 if register is not None and register.type.endswith("16") else 32)
        return round(top * (register.scale if register is not None else 1.0))


def _counter_type(register: Register) -> NumberType:
    """A counter has no sign, whatever its manual says."""
    unsigned: dict[NumberType, NumberType] = {"int16": "uint16", "int32": "uint32"}
    return unsigned.get(register.type, register.type)
