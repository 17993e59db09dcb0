"""A node on a serial line: one frame is one row of all its channels."""

from __future__ import annotations

from firmware_bridge.links.serial_line import SerialLine
from firmware_bridge.links.shared_line import SharedLine
from firmware_bridge.meters import Asked, Joined, Meter
from firmware_bridge.readings.agreeing import Agreement
from firmware_bridge.readings.node_driver import NodeDriver


def join(asked: Asked) -> Joined:
    """Options: port, baud, turbine, inputs, outlet_cell_constant_per_cm,
    inlet_cell_constant_per_cm. Two lines may be on one port, each with a turbine of the node."""
    options = asked.options
    port = asked.shared.of(
        options.port, SharedLine, lambda: SharedLine(SerialLine(options.port, options.baud))
    )
    return Joined(
        link=port.tap(),
        driver=NodeDriver(
            asked.line_id,
            state=asked.state,
            counter=options.turbine,
            inputs=options.inputs,
            agreed=asked.shared.of(options.port, Agreement, Agreement),
            outlet_cell=options.outlet_cell_constant_per_cm,
            inlet_cell=options.inlet_cell_constant_per_cm,
        ),
    )


METER = Meter(name="node-serial", join=join)
