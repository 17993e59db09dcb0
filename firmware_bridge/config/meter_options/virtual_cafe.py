"""A café that exists only in numbers."""

from __future__ import annotations

from typing import Annotated

from firmware_bridge.config.readers import asks, ratio, whole
from firmware_bridge.config.wiring import MeterOptions


class VirtualCafe(MeterOptions, frozen=True, kw_only=True):
    """An invented café with virtual meters, for trying things out."""

    speed: Annotated[float, asks("Café seconds to the second.", ratio(1.0, 1e7), example="1")] = 1.0
    seed: Annotated[int, asks("Another number is another café.", whole(0, 2**31), example="1")] = 1


OPTIONS = VirtualCafe
