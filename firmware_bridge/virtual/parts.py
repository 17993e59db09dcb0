"""The café's meters as a node's hardware: two probes, two thermometers, a turbine, a memory."""

from __future__ import annotations

import random

from firmware_bridge.firmware import frames
from firmware_bridge.firmware.parts import OUTLET, Conductivity, Memory, Pulses, Thermometer
from firmware_bridge.virtual.plumbing import Plumbing

NOISE = 0.0018
"""Scatter of a conductivity reading, as a share."""
BUBBLE = 0.002
"""Share of readings that catch a bubble while water runs."""
GAIN_SD = 0.012
K_FACTOR_SD = 0.01


class Parts(Pulses, Memory):
    """Imperfect meters in perfect pipes. Gains and the true K-factor come from the seed."""

    def __init__(self, plumbing: Plumbing, seed: int, pulses_per_l: float, inlet: bool) -> None:
        self._plumbing = plumbing
        self._chance = random.Random(f"parts {seed}")
        self.gains = (self._chance.gauss(1.0, GAIN_SD), self._chance.gauss(1.0, GAIN_SD))
        self.true_pulses_per_l = pulses_per_l * self._chance.gauss(1.0, K_FACTOR_SD)
        self._probes = 2 if inlet else 1
        self._saved = b""
        self.conductivity = _Conductivity(self)
        self.thermometer = _Thermometer(self)

    def water(self, probe: int) -> tuple[float, float] | None:
        """True conductivity and temperature at a probe; None where there is none."""
        if probe >= self._probes:
            return None
        return self._plumbing.outlet() if probe == OUTLET else self._plumbing.inlet()

    def conductivity_us_cm(self, probe: int) -> float | None:
        """As the probe reads it."""
        water = self.water(probe)
        if water is None:
            return None
        value = water[0] * self.gains[probe] * self._chance.gauss(1.0, NOISE)
        if self._plumbing.running and self._chance.random() < BUBBLE:
            value *= self._chance.uniform(0.5, 0.95)
        return value

    def temperature_c(self, probe: int) -> float | None:
        """As the thermometer reads it."""
        water = self.water(probe)
        return None if water is None else water[1] + self._chance.gauss(0.0, 0.04)

    def count(self, meter: int) -> int:
        """Pulses of the one turbine."""
        return int(self._plumbing.turbine_l * self.true_pulses_per_l) if meter == 0 else 0

    def load(self) -> bytes:
        return self._saved

    def save(self, data: bytes) -> None:
        self._saved = data


class _Conductivity(Conductivity):
    def __init__(self, parts: Parts) -> None:
        self._parts = parts

    def read(self, probe: int) -> tuple[int | None, int]:
        return _whole(self._parts.conductivity_us_cm(probe), 100)


class _Thermometer(Thermometer):
    def __init__(self, parts: Parts) -> None:
        self._parts = parts

    def read(self, probe: int) -> tuple[int | None, int]:
        return _whole(self._parts.temperature_c(probe), 1000)


def _whole(value: float | None, scale: int) -> tuple[int | None, int]:
    """A value in the frames' units, and its status."""
    if value is None:
        return None, frames.NO_READING
    return round(value * scale), frames.GOOD
