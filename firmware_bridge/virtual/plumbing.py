"""The water in the pipe from draw to draw: litres, temperatures, conductivity at both probes."""

from __future__ import annotations

from math import exp

import msgspec

from analytics.samples import HOUR_MS, MINUTE_MS
from firmware_bridge.virtual.bed import VirtualBed
from firmware_bridge.virtual.surroundings import Surroundings, natural_ratio
from firmware_bridge.virtual.week import Draw, Week

WARMS_MS = 40 * MINUTE_MS
"""Standing water in the pipe comes to room temperature in about this time."""
PIPE_L = 0.25
HEAD_L = 1.6
"""Litres that wash the standing water out of the pipe, and out of the cartridge."""
SLUG_L = 0.15
SLUG = 0.03
"""After hours of standing the first litres behind the bed differ by up to this share."""
TRICKLE_L_MIN = 0.25
TRICKLE_SHARE = 0.985
"""A small turbine loses a little at brew flow."""


class Truth(msgspec.Struct, frozen=True, kw_only=True):
    """What is really so at an instant."""

    at_ms: int
    litres: float
    cartridge_l: float
    ec25_us_cm: float
    hardness_mmol_l: float
    raw_factor: float


class Plumbing:
    """The pipe at one instant; `advance` moves it on."""

    def __init__(
        self, bed: VirtualBed, week: Week, around: Surroundings, start_ms: int, raw_ec25: float
    ) -> None:
        self.at_ms = start_ms
        self.litres = 0.0
        self.turbine_l = 0.0
        self._bed = bed
        self._week = week
        self._around = around
        self._raw_ec25 = raw_ec25
        self._fitted_l = 0.0
        self._in_c = self._out_c = around.room_c(start_ms)
        self._stood_ms = float(12 * HOUR_MS)
        self._since_still_l = 0.0
        self._day = week.day_of(start_ms)
        self._draws = week.draws(self._day)
        self._place = 0
        self._pass_over_old()

    @property
    def draw(self) -> Draw:
        """The draw that runs, or the next one."""
        while self._place >= len(self._draws):
            self._day += 1
            self._draws, self._place = self._week.draws(self._day), 0
        return self._draws[self._place]

    @property
    def running(self) -> bool:
        """Whether water runs now."""
        return self.draw.start_ms <= self.at_ms < self.draw.stop_ms

    def fit_cartridge(self, bed: VirtualBed) -> None:
        """A new cartridge is put in."""
        self._bed, self._fitted_l = bed, self.litres

    def advance(self, to_ms: int) -> None:
        """Time goes on; an instant in the past changes nothing."""
        while self.at_ms < to_ms:
            draw = self.draw
            if self.at_ms < draw.start_ms:
                self._stand(min(to_ms, draw.start_ms))
            else:
                self._flow(draw, min(to_ms, draw.stop_ms))
                if self.at_ms >= draw.stop_ms:
                    self._place += 1

    def truth(self) -> Truth:
        """What is really so now."""
        water = self._bed(self.litres - self._fitted_l)
        factor = self._around.raw_factor(self.at_ms)
        return Truth(
            at_ms=self.at_ms,
            litres=self.litres,
            cartridge_l=self.litres - self._fitted_l,
            ec25_us_cm=water.ec25_us_cm * factor,
            hardness_mmol_l=water.hardness_mmol_l * factor,
            raw_factor=factor,
        )

    def outlet(self) -> tuple[float, float]:
        """Conductivity at the outlet probe as it is, not at 25 C, and its temperature."""
        water = self._bed(self.litres - self._fitted_l)
        slug = SLUG * (1.0 - exp(-self._stood_ms / (2 * HOUR_MS)))
        ec25 = water.ec25_us_cm * self._around.raw_factor(self.at_ms)
        ec25 *= 1.0 + slug * exp(-self._since_still_l / SLUG_L)
        return ec25 * natural_ratio(self._out_c), self._out_c

    def inlet(self) -> tuple[float, float]:
        """Conductivity at the inlet probe as it is, not at 25 C, and its temperature."""
        ec25 = self._raw_ec25 * self._around.raw_factor(self.at_ms)
        return ec25 * natural_ratio(self._in_c), self._in_c

    def _stand(self, to_ms: int) -> None:
        passed = to_ms - self.at_ms
        room = self._around.room_c(to_ms)
        keep = exp(-passed / WARMS_MS)
        self._in_c = room + (self._in_c - room) * keep
        self._out_c = room + (self._out_c - room) * keep
        if self._since_still_l > 0.0 and passed > 5 * MINUTE_MS:
            self._stood_ms, self._since_still_l = 0.0, 0.0
        self._stood_ms += passed if self._since_still_l == 0.0 else 0.0
        self.at_ms = to_ms

    def _flow(self, draw: Draw, to_ms: int) -> None:
        litres = draw.l_per_ms * (to_ms - self.at_ms)
        mains = self._around.mains_c(to_ms)
        self._in_c = mains + (self._in_c - mains) * exp(-litres / PIPE_L)
        self._out_c = self._in_c + (self._out_c - self._in_c) * exp(-litres / HEAD_L)
        self.litres += litres
        slow = draw.l_per_ms * MINUTE_MS < TRICKLE_L_MIN
        self.turbine_l += litres * (TRICKLE_SHARE if slow else 1.0)
        self._since_still_l += litres
        self.at_ms = to_ms

    def _pass_over_old(self) -> None:
        while self.draw.stop_ms <= self.at_ms:
            self._place += 1
