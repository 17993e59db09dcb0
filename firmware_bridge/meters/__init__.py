"""One file a meter driver; each defines METER.

    METER = Meter(name="bench-probe", join=...)      firmware_bridge/meters/bench_probe.py

`join` gets what the site file says and gives back the link, the driver that turns its bytes into
lots, and, where the meter itself is part of this program, its life.
"""

from __future__ import annotations

import importlib
import pkgutil
from collections.abc import Callable, Coroutine
from typing import Any

import msgspec

from firmware_bridge.acquire import Acquire, Deliver, Driver
from firmware_bridge.clock import Clock
from firmware_bridge.config.wiring import MeterWiring, Site
from firmware_bridge.links import Link
from firmware_bridge.links.shared import Shared


class Asked(msgspec.Struct, frozen=True, kw_only=True):
    """What a driver is joined with: its line, its options, the state of its last lot, the clock."""

    meter_id: str
    line_id: str
    options: Any
    state: bytes = b""
    clock: Clock
    pulses_per_l: float = 1000.0
    """The line's K-factor as stated, for meters that count litres."""
    shared: Shared = msgspec.field(default_factory=Shared)
    """What the site's meters on one port have in common."""


class Joined(msgspec.Struct, frozen=True, kw_only=True):
    """A meter ready to be read. `life`, if any, is to run beside the reading task."""

    link: Link
    driver: Driver
    life: Callable[[], Coroutine[Any, Any, None]] | None = None


class Meter(msgspec.Struct, frozen=True, kw_only=True):
    """A kind of meter, by the name that stands after `driver =` in a site file."""

    name: str
    join: Callable[[Asked], Joined]


def meter_named(word: str) -> Meter:
    """The meter of a file of this folder, by the word in a site file; loads that file alone.

    Raises LookupError when there is none.
    """
    name = word.replace("-", "_")
    if name not in {module.name for module in pkgutil.iter_modules(__path__)}:
        raise LookupError(f"no meter is called {word!r}")
    found = importlib.import_module(f"{__name__}.{name}").METER
    if not isinstance(found, Meter):
        raise TypeError(f"{__name__}.{name}: METER is not a Meter")
    return found


def asked_of(
    site: Site,
    wired: MeterWiring,
    clock: Clock,
    *,
    state: bytes = b"",
    shared: Shared | None = None,
) -> Asked:
    """What a meter of a site is joined with."""
    line = next(line for line in site.setup.lines if line.line_id == wired.line_id)
    return Asked(
        meter_id=wired.meter_id,
        line_id=wired.line_id,
        options=wired.options,
        state=state,
        clock=clock,
        pulses_per_l=line.pulses_per_l,
        shared=shared or Shared(),
    )


def reading_task(
    asked: Asked, joined: Joined, deliver: Deliver, *, every_s: float = 0.5
) -> Acquire:
    """The supervised task that reads a joined meter."""
    return Acquire(
        asked.meter_id, joined.link, joined.driver, deliver, clock=asked.clock, every_s=every_s
    )
