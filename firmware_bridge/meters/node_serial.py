"""A node on a serial line: one frame is one row of all its channels."""

from __future__ import annotations

from firmware_bridge.links.serial_line import SerialLine
from firmware_bridge.meters import Asked, Joined, Meter
from firmware_bridge.readings.node_driver import NodeDriver


def join(asked: Asked) -> Joined:
    """Options: port, baud, turbine, outlet_cell_constant_per_cm, inlet_cell_constant_per_cm."""
    options = asked.options
    return Joined(
        link=SerialLine(options.port, options.baud),
        driver=NodeDriver(
            asked.line_id,
            state=asked.state,
            counter=options.turbine,
            outlet_cell=options.outlet_cell_constant_per_cm,
            inlet_cell=options.inlet_cell_constant_per_cm,
        ),
    )


METER = Meter(name="node-serial", join=join)
