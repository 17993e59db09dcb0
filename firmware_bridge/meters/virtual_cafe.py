"""The virtual café: its node lives on a pseudo-terminal and is read like any other node."""

from __future__ import annotations

from analytics.samples import Flag
from firmware_bridge.clock import Clock
from firmware_bridge.links.pty_pair import PtyPair
from firmware_bridge.links.serial_line import SerialLine
from firmware_bridge.meters import Asked, Joined, Meter
from firmware_bridge.readings.node_driver import NodeDriver
from firmware_bridge.virtual.cafe import VirtualCafe


def join(asked: Asked) -> Joined:
    """Options: seed. The café opens at the clock's present and lives at the clock's pace."""
    cafe = VirtualCafe(start_ms=asked.clock.now_ms(), seed=asked.options.seed)
    return joined_to(cafe, asked.line_id, asked.clock, state=asked.state)


def joined_to(cafe: VirtualCafe, line_id: str, clock: Clock, *, state: bytes = b"") -> Joined:
    """Any café, at the other end of a cable."""
    cable = PtyPair()

    async def life() -> None:
        try:
            await cafe.run(cable, clock)
        finally:
            cable.close()

    return Joined(
        link=SerialLine(cable.port),
        driver=NodeDriver(line_id, state=state, flags=Flag.SIMULATED),
        life=life,
    )


METER = Meter(name="virtual-cafe", join=join)
