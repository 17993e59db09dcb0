"""A recording file played as if it were a meter."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from analytics.samples import Flag
from firmware_bridge.config.readers import asks, file_path, ratio
from firmware_bridge.config.wiring import MeterOptions
from firmware_bridge.meters import Asked, Joined, Meter
from firmware_bridge.readings.played import PlayedDecoder
from firmware_bridge.readings.value_driver import ValueDriver


class Played(MeterOptions, frozen=True, kw_only=True):
    """A recording (CSV, plain or gzip) played from its start as if it happened now; for trying
    things out. Its rows are marked as not from real meters."""

    file: Annotated[str, asks("The recording.", file_path, example='"recording.csv.gz"', live=True)]
    speed: Annotated[
        float,
        asks(
            "Recorded seconds to the second; beyond 1 the water seems to flow faster.",
            ratio(0.01, 10_000.0),
            example="1.0",
        ),
    ] = 1.0


def join(asked: Asked) -> Joined:
    """The file as a meter."""
    from firmware_bridge.links.played import PlayedLine

    options: Played = asked.options
    driver = ValueDriver(
        asked.line_id,
        asked.meter_id,
        PlayedDecoder(),
        state=asked.state,
        flags=Flag.SIMULATED,
        own_time=True,
    )
    link = PlayedLine(Path(options.file), asked.clock, options.speed)
    return Joined(link=link, driver=driver)


METER = Meter(name="recording", join=join)
OPTIONS = Played
