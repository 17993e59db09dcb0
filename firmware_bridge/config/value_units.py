"""What plain numbers of a meter are in, for meters that say numbers without a unit."""

from __future__ import annotations

from typing import Annotated

from firmware_bridge.config import kinds
from firmware_bridge.config.readers import asks, linear_unit
from firmware_bridge.config.water_meter import WaterMeter
from firmware_bridge.readings.numbers import Units


class ValueUnits(WaterMeter, frozen=True, kw_only=True):
    """Units of a meter's plain numbers."""

    conductivity_in: Annotated[
        tuple[float, float],
        asks("Unit of its conductivities.", linear_unit(kinds.CONDUCTIVITY), example='"uS/cm"'),
    ] = (1.0, 0.0)
    temperature_in: Annotated[
        tuple[float, float],
        asks("Unit of its temperatures.", linear_unit(kinds.TEMPERATURE), example='"degC"'),
    ] = (1.0, 0.0)

    def units(self) -> Units:
        """The same, as a decoder wants it."""
        return Units(conductivity=self.conductivity_in, temperature=self.temperature_in)
