"""Modbus devices on a serial line (RS-485), by a map of registers in the site file."""

from __future__ import annotations

from typing import Annotated, Literal

from firmware_bridge.config.readers import asks, whole, words
from firmware_bridge.config.registers import RegisterMap
from firmware_bridge.config.wiring import MeterOptions, OwnFault
from firmware_bridge.meters import Asked, Joined, Meter
from firmware_bridge.readings.registers import RegisterDecoder
from firmware_bridge.readings.value_driver import ValueDriver, counter_of


class ModbusRtu(RegisterMap, frozen=True, kw_only=True):
    """Modbus devices on a serial line; registers are only read, never written. A transmitter with
    4-20 mA is read through an analogue input module, with at_4_ma and at_20_ma."""

    port: Annotated[
        str,
        asks(
            "The serial port; the name by id stays the same when the plug moves.",
            words,
            example='"/dev/serial/by-id/usb-rs485-if00"',
            live=True,
        ),
    ]
    baud: Annotated[int, asks("Bits a second.", whole(300, 4_000_000), example="19200")] = 19_200
    parity: Annotated[Literal["none", "even", "odd"], asks("Parity bit.", example='"none"')] = (
        "none"
    )
    stop_bits: Annotated[int, asks("Stop bits.", whole(1, 2), example="1")] = 1

    def beside(self, other: MeterOptions, *, same_line: bool) -> OwnFault | None:
        """Devices on one pair of wires, of one line or of several: at one pace."""
        if not isinstance(other, ModbusRtu):
            return super().beside(other, same_line=same_line)
        for key in ("baud", "parity", "stop_bits"):
            theirs = getattr(other, key)
            if getattr(self, key) != theirs:
                return OwnFault(key=key, problem="two paces", mend=f"Use {theirs} for both.")
        return None


def join(asked: Asked) -> Joined:
    """One line of devices as one meter."""
    from firmware_bridge.links.modbus import serial_line

    options: ModbusRtu = asked.options
    decoder = RegisterDecoder(options.slots())
    link = serial_line(
        options.port,
        decoder.reads,
        baud=options.baud,
        parity=options.parity,
        stop_bits=options.stop_bits,
        every_s=options.every_s,
        answer_s=options.answer_s,
        shared=asked.shared,
    )
    counter = counter_of(asked.pulses_per_l, options.pulse_value_l, options.wrap())
    driver = ValueDriver(asked.line_id, asked.meter_id, decoder, state=asked.state, counter=counter)
    return Joined(link=link, driver=driver)


METER = Meter(name="modbus-rtu", join=join)
OPTIONS = ModbusRtu
