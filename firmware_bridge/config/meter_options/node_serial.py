"""A node on a serial line."""

from __future__ import annotations

from typing import Annotated, Literal

import msgspec

from firmware_bridge.config import kinds
from firmware_bridge.config.readers import asks, quantity, whole, words
from firmware_bridge.config.wiring import MeterOptions, OwnFault

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
    inputs: Annotated[
        Literal["both", "first", "second"],
        asks(
            "Which of the node's two probe inputs are this line's: both, outlet first, or one "
            "alone as its outlet.",
            example='"both"',
        ),
    ] = "both"
    outlet_cell_constant_per_cm: Annotated[
        float, asks("Cell constant printed on the outlet probe.", CELL, example='"1 1/cm"')
    ] = msgspec.field(name="outlet_cell_constant", default=1.0)
    inlet_cell_constant_per_cm: Annotated[
        float, asks("Cell constant printed on the inlet probe.", CELL, example='"1 1/cm"')
    ] = msgspec.field(name="inlet_cell_constant", default=1.0)

    def beside(self, other: MeterOptions, *, same_line: bool) -> OwnFault | None:
        """One node may feed two lines, each by a turbine of its own."""
        if not isinstance(other, NodeSerial):
            return super().beside(other, same_line=same_line)
        if same_line:
            return OwnFault(
                key="port",
                problem="this line has it already",
                mend="Name the other line, or one meter.",
            )
        if self.baud != other.baud:
            return OwnFault(
                key="baud", problem="two paces on one port", mend=f"Use {other.baud} for both."
            )
        if self.turbine == other.turbine:
            return OwnFault(
                key="turbine", problem="counts the other line", mend="Give each its own: 1 and 2."
            )
        return None


OPTIONS = NodeSerial
