"""The channels a meter may give, as a site file names them, and what can be on each."""

from __future__ import annotations

import math
from typing import Final

import msgspec

from analytics.samples import Flag
from firmware_bridge.readings.making import HIGHEST_C, HIGHEST_US_CM, LOWEST_C


class Channel(msgspec.Struct, frozen=True, kw_only=True):
    """One value channel: its word in a site file, its column of a row, its bounds and unit."""

    word: str
    column: str
    unit: str
    low: float
    high: float
    usual: tuple[float, float]
    """Drinking water before or behind a cartridge is hardly ever outside (common practice)."""
    suspect: Flag

    def possible(self, value: float) -> bool:
        """Whether a sound meter could have said this."""
        return self.low <= value <= self.high  # false for not-a-number as well

    def likely(self, value: float) -> bool:
        """Whether drinking water reads like this."""
        return self.usual[0] <= value <= self.usual[1]


def _conductivity(side: str, suspect: Flag) -> Channel:
    return Channel(
        word=f"{side}_conductivity",
        column=f"{side}_us_cm",
        unit="uS/cm",
        low=0.0,
        high=HIGHEST_US_CM,
        usual=(20.0, 5000.0),
        suspect=suspect,
    )


def _temperature(side: str, suspect: Flag) -> Channel:
    return Channel(
        word=f"{side}_temperature",
        column=f"{side}_temp_c",
        unit="C",
        low=LOWEST_C,
        high=HIGHEST_C,
        usual=(1.0, 60.0),
        suspect=suspect,
    )


VALUE_CHANNELS: Final = (
    _conductivity("outlet", Flag.OUTLET_SUSPECT),
    _temperature("outlet", Flag.OUTLET_SUSPECT),
    _conductivity("inlet", Flag.INLET_SUSPECT),
    _temperature("inlet", Flag.INLET_SUSPECT),
)
BY_WORD: Final = {channel.word: channel for channel in VALUE_CHANNELS}
COUNT: Final = "flow_count"
"""The word of a counter that counts for ever: pulses, or litres times a fixed number."""


def shown(channel: Channel, value: float) -> str:
    """A value for a message."""
    return f"{value:.6g} {channel.unit}" if math.isfinite(value) else "not a number"
