"""A node on a serial line."""

from __future__ import annotations

from typing import Annotated

import msgspec

from firmware_bridge.config import kinds
from firmware_bridge.config.readers import asks, quantity, whole, words
from firmware_bridge.config.wiring import MeterOptions

CELL = quantity(kinds.CELL_CONSTANT)


class NodeSerial(MeterOptions, frozen=True, kw_only=True):
    """A node that sends all its channels in frames over a serial line."""

    port: Annotated[
        str,
        asks(
            "The serial port; the name by id stays the same when the plug moves.",
            words,
            example='"/dev/serial/by-id/usb-node-if00"',
            live=True,
        ),
    ]
    baud: Annotated[int, asks("Bits a second.", whole(300, 4_000_000), example="115200")] = 115_200
    turbine: Annotated[
        int, asks("Which of the node's two turbines counts this line.", whole(1, 2), example="1")
    ] = 1
    outlet_cell_constant_per_cm: Annotated[
        float, asks("Cell constant printed on the outlet probe.", CELL, example='"1 1/cm"')
    ] = msgspec.field(name="outlet_cell_constant", default=1.0)
    inlet_cell_constant_per_cm: Annotated[
        float, asks("Cell constant printed on the inlet probe.", CELL, example='"1 1/cm"')
    ] = msgspec.field(name="inlet_cell_constant", default=1.0)


OPTIONS = NodeSerial
