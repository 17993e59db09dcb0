"""An SDI-12 sensor through a serial adapter."""

from __future__ import annotations

from typing import Annotated, Literal

import msgspec

from firmware_bridge.config import kinds
from firmware_bridge.config.readers import asks, matching, quantity, whole, words
from firmware_bridge.config.value_units import ValueUnits
from firmware_bridge.config.wiring import OwnFault
from firmware_bridge.meters import Asked, Joined, Meter
from firmware_bridge.readings.channels import COUNT
from firmware_bridge.readings.sdi12 import Sdi12Decoder
from firmware_bridge.readings.value_driver import ValueDriver, counter_of

PLACE = whole(1, 99)


class Sdi12(ValueUnits, frozen=True, kw_only=True):
    """An SDI-12 sensor through a serial adapter; a channel is the place of its value in what the
    sensor sends, counted from 1. Only measuring questions are asked."""

    port: Annotated[
        str,
        asks(
            "The adapter's serial port.", words, example='"/dev/serial/by-id/usb-sdi12-if00"',
            live=True,
        ),
    ]  # fmt: skip
    baud: Annotated[int, asks("Bits a second.", whole(300, 115_200), example="1200")] = 1200
    bits: Annotated[
        Literal["7e1", "8n1"],
        asks("Bits, parity and stop bits; 8n1 where the adapter does the rest.", example='"7e1"'),
    ] = "7e1"
    address: Annotated[
        str,
        asks("The sensor's address.", matching("[0-9A-Za-z]", "one letter or digit"),
             example='"0"'),
    ] = "0"  # fmt: skip
    every_s: Annotated[
        float,
        asks("How often it measures.", quantity(kinds.SPAN_S, low=0.2, high=3600.0),
             example='"5 s"'),
    ] = msgspec.field(name="every", default=5.0)  # fmt: skip
    concurrent: Annotated[
        bool, asks("Ask by aC! instead of aM!, where the sensor wants it.", example="false")
    ] = False
    check: Annotated[
        bool, asks("Ask for answers with a CRC (not every old sensor can).", example="true")
    ] = True
    outlet_conductivity: Annotated[
        int | None, asks("Place of the outlet's conductivity.", PLACE, example="1")
    ] = None
    outlet_temperature: Annotated[
        int | None, asks("Place of the outlet's temperature.", PLACE, example="2")
    ] = None
    inlet_conductivity: Annotated[
        int | None, asks("Place of the inlet's conductivity.", PLACE, example="1")
    ] = None
    inlet_temperature: Annotated[
        int | None, asks("Place of the inlet's temperature.", PLACE, example="2")
    ] = None
    flow_count: Annotated[
        int | None, asks("Place of a counter that counts for ever.", PLACE, example="3")
    ] = None

    def places(self) -> dict[str, int]:
        """The channels that are stated."""
        stated = {
            "outlet_conductivity": self.outlet_conductivity,
            "outlet_temperature": self.outlet_temperature,
            "inlet_conductivity": self.inlet_conductivity,
            "inlet_temperature": self.inlet_temperature,
            COUNT: self.flow_count,
        }
        return {word: place for word, place in stated.items() if place is not None}

    def own_faults(self) -> tuple[OwnFault, ...]:
        """No channel at all."""
        if self.places():
            return super().own_faults()
        mend = "Add outlet_conductivity = 1 or another channel."
        return (OwnFault(key="outlet_conductivity", problem="no channel is stated", mend=mend),)


def join(asked: Asked) -> Joined:
    """The sensor as a meter."""
    from firmware_bridge.links.sdi12 import Sdi12Line

    options: Sdi12 = asked.options
    link = Sdi12Line(
        options.port,
        options.address,
        baud=options.baud,
        plain=options.bits == "8n1",
        every_s=options.every_s,
        concurrent=options.concurrent,
        check=options.check,
    )
    counter = counter_of(asked.pulses_per_l, options.pulse_value_l, options.wrap())
    decoder = Sdi12Decoder(options.places(), options.units())
    driver = ValueDriver(asked.line_id, asked.meter_id, decoder, state=asked.state, counter=counter)
    return Joined(link=link, driver=driver)


METER = Meter(name="sdi-12", join=join)
OPTIONS = Sdi12
