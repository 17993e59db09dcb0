"""What a site is, in base units: the undated facts of the site file, compiled once."""

from __future__ import annotations

from enum import StrEnum
from typing import TypeAlias

import msgspec
import numpy as np

from analytics.samples import HOUR_MS, AnyEvent


class CapacityKind(StrEnum):
    """Which hardness a cartridge's capacity is counted in."""

    TOTAL = "total"
    CARBONATE = "carbonate"
    CALCIUM = "calcium"


class Limits(msgspec.Struct, frozen=True, kw_only=True):
    """Thresholds of the site's alarms."""

    outlet_high_mmol_l: float | None = None
    litres_low_share: float = 0.15
    """Warn when the litres left, as a share of the cartridge's whole, may be under this."""
    litres_low_l: float | None = None
    """Warn also when fewer litres than this are left."""
    days_low: float = 14.0
    gap_s: float = 900.0
    """No rows for longer than this is a data gap."""
    outlet_low_mmol_l: float | None = None
    """Blended water softer than this is thin."""
    profile: str = ""
    """Name of the brew-water profile (`analytics.survey.window`) the machine's water is held
    against; none: it is not."""
    share_now: float = 0.03
    days_now: float = 3.0
    """Litres (as a share of the whole) or days left under which the cartridge is to be changed."""
    bypass_off: float = 0.10
    """How far the bypass that is seen may be from the one that is set (share of the water)."""
    leak_l_h: float = 2.0
    """Litres in an hour with the shop shut."""
    no_flow_h: float = 4.0
    """Hours without any flow with the shop open."""
    standing_h: float = 72.0
    """Water that stood longer is to be flushed (VDI/DVGW 6023)."""
    flush_l: float = 5.0
    cold_c: float = 25.0
    """Cold water warmer than this (VDI 6023)."""


class LocalTime(msgspec.Struct, frozen=True, kw_only=True):
    """The site's clock: `offset_s[i]` seconds east of UTC hold from `from_ms[i]` on."""

    from_ms: tuple[int, ...] = (0,)
    offset_s: tuple[int, ...] = (0,)

    def offset_ms(self, at_ms: int) -> int:
        """Milliseconds to add to UTC at this instant."""
        place = max(int(np.searchsorted(self.from_ms, at_ms, side="right")) - 1, 0)
        return self.offset_s[place] * 1000

    def weekday_and_hour(self, at_ms: int) -> tuple[int, int]:
        """Local weekday (Monday is 0) and hour (0-23)."""
        hours = (at_ms + self.offset_ms(at_ms)) // HOUR_MS
        return int(hours // 24 + 3) % 7, int(hours % 24)


Opening: TypeAlias = tuple[tuple[int, int], ...]
"""Minutes of the day, Monday first, between which the place is open; (0, 0) is a closed day, an end
beyond 1440 runs past midnight."""
ALWAYS_OPEN: Opening = ((0, 1440),) * 7
Closures: TypeAlias = tuple[tuple[int, int], ...]
"""Spans (from, until) in milliseconds of UTC in which a place is shut beyond its usual hours."""


class HostLimits(msgspec.Struct, frozen=True, kw_only=True):
    """Thresholds of the alarms about the box itself."""

    disk_free_mb: float = 500.0
    sink_late_s: float = 6 * 3600.0


class LineSetup(msgspec.Struct, frozen=True, kw_only=True):
    """One filter position: its medium, its cartridge's size, its meters and its limits.

    `capacity_mmol` is mmol of hardness of `capacity_kind` that a new cartridge takes up to the end
    of
    capacity as its maker rates it (1 dH*L = 0.178326 mmol); None: only litres and months are
    stated.
    `rated_l` is a stated life in litres. `pulses_per_l` is the flow meter's K-factor as stated.
    """

    line_id: str
    medium: str
    size: str = ""
    """What the cartridge's size is called by whoever supplies it."""
    capacity_mmol: float | None = None
    capacity_kind: CapacityKind = CapacityKind.TOTAL
    capacity_relative_sd: float = 0.10
    rated_l: float | None = None
    time_limit_days: float | None = None
    carbon_l: float | None = None
    bypass: float = 0.0
    outlet_probe: bool = True
    inlet_probe: bool = False
    flow_meter: bool = True
    pulses_per_l: float = 1000.0
    litres_a_day: float | None = None
    """Stated use, where there is no flow meter."""
    rated_flow_l_min: float | None = None
    end_share: float = 0.2
    """Capacity ends when this share of what the fresh bed removed has come back."""
    machines: tuple[str, ...] = ()
    opening: Opening = ALWAYS_OPEN
    """The place's hours: what is drawn is expected in them until its habits are known."""
    limits: Limits = Limits()


class SiteSetup(msgspec.Struct, frozen=True, kw_only=True):
    """The whole site as the daemon and the pages need it."""

    site_id: str
    name: str
    what: str = ""
    service: str = ""
    time_zone: str = "UTC"
    local_time: LocalTime = LocalTime()
    opening: Opening = ALWAYS_OPEN
    host_limits: HostLimits = HostLimits()
    lines: tuple[LineSetup, ...]
    dated: tuple[AnyEvent, ...] = ()
    """Dated entries of the site file, brought into the store once."""
    seed: int = 20240
