"""A device that prints lines of text on a serial line, read by a pattern."""

from __future__ import annotations

from typing import Annotated

from firmware_bridge.config.fault import Refused
from firmware_bridge.config.readers import Place, asks, whole, words
from firmware_bridge.config.value_units import ValueUnits
from firmware_bridge.links.serial_line import SerialLine
from firmware_bridge.meters import Asked, Joined, Meter
from firmware_bridge.readings.numbers import WORDS
from firmware_bridge.readings.value_driver import ValueDriver, counter_of


def _pattern(value: object, place: Place) -> str:
    from firmware_bridge.readings.text import pattern_fault

    allowed = f"a regular expression with named groups out of {', '.join(WORDS)}"
    if not isinstance(value, str):
        raise Refused("not a text", allowed)
    fault = pattern_fault(value)
    if fault:
        mend = "Write it in single quotes: '(?P<outlet_conductivity>[0-9.]+) uS'."
        raise Refused(fault, allowed, mend)
    return value


class TextLines(ValueUnits, frozen=True, kw_only=True):
    """A device that prints a line of text for each reading; nothing is ever sent to it."""

    port: Annotated[
        str, asks("The serial port.", words, example='"/dev/serial/by-id/usb-text-if00"', live=True)
    ]
    baud: Annotated[int, asks("Bits a second.", whole(300, 4_000_000), example="9600")] = 9_600
    pattern: Annotated[
        str,
        asks(
            "What a line looks like, as a regular expression; each named group is a channel: "
            + ", ".join(WORDS)
            + ".",
            _pattern,
            example="'EC=(?P<outlet_conductivity>[0-9.]+) T=(?P<outlet_temperature>[0-9.]+)'",
            live=True,
        ),
    ]


def join(asked: Asked) -> Joined:
    """The device as a meter."""
    from firmware_bridge.readings.text import TextDecoder

    options: TextLines = asked.options
    counter = counter_of(asked.pulses_per_l, options.pulse_value_l, options.wrap())
    decoder = TextDecoder(options.pattern, options.units())
    driver = ValueDriver(asked.line_id, asked.meter_id, decoder, state=asked.state, counter=counter)
    return Joined(link=SerialLine(options.port, options.baud), driver=driver)


METER = Meter(name="text-lines", join=join)
OPTIONS = TextLines
