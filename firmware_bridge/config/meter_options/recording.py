"""A recording played back as if it were a meter."""

from __future__ import annotations

from typing import Annotated

from firmware_bridge.config.readers import asks, file_path, ratio
from firmware_bridge.config.wiring import MeterOptions


class Recording(MeterOptions, frozen=True, kw_only=True):
    """A recording (CSV, or CSV in gzip) played back."""

    path: Annotated[str, asks("The file.", file_path, example='"recording.csv.gz"', live=True)]
    speed: Annotated[
        float, asks("Recorded seconds to the second.", ratio(0.001, 1e7), example="1")
    ] = 1.0


OPTIONS = Recording
