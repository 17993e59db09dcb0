"""Modbus devices on the network, by a map of registers in the site file."""

from __future__ import annotations

from typing import Annotated

from firmware_bridge.config.readers import asks, host, whole
from firmware_bridge.config.registers import RegisterMap
from firmware_bridge.meters import Asked, Joined, Meter
from firmware_bridge.readings.registers import RegisterDecoder
from firmware_bridge.readings.value_driver import ValueDriver, counter_of


class ModbusTcp(RegisterMap, frozen=True, kw_only=True):
    """Modbus devices on the network, or behind a gateway; registers are only read."""

    host: Annotated[str, asks("Its name or address.", host, example='"192.0.2.17"', live=True)]
    tcp_port: Annotated[int, asks("Its TCP port.", whole(1, 65_535), example="502")] = 502


def join(asked: Asked) -> Joined:
    """One connection as one meter."""
    from firmware_bridge.links.modbus import tcp_line

    options: ModbusTcp = asked.options
    decoder = RegisterDecoder(options.slots())
    link = tcp_line(
        options.host,
        options.tcp_port,
        decoder.reads,
        every_s=options.every_s,
        answer_s=options.answer_s,
    )
    counter = counter_of(asked.pulses_per_l, options.pulse_value_l, options.wrap())
    driver = ValueDriver(asked.line_id, asked.meter_id, decoder, state=asked.state, counter=counter)
    return Joined(link=link, driver=driver)


METER = Meter(name="modbus-tcp", join=join)
OPTIONS = ModbusTcp
