"""The undated tables of a site file, as a person writes them; values are in base units once read.

Each field's description and example are what the commented sample shows and the faults name.
"""

from __future__ import annotations

from typing import Annotated, Literal

import msgspec

from analytics import media
from analytics.setup import CapacityKind
from analytics.survey.window import WINDOWS
from firmware_bridge.config import kinds
from firmware_bridge.config.local_time import time_zone
from firmware_bridge.config.readers import (
    asks,
    ident,
    language_code,
    litres_passed,
    opening_hours,
    quantity,
    whole,
    words,
)

ALL_DAY = (0, 1440)
Hours = Annotated[tuple[int, int], asks("", opening_hours, example='"00:00-24:00"')]


class OpeningTable(msgspec.Struct, frozen=True, kw_only=True):
    """When the place is open, by weekday: flow outside these hours is a leak to look for.
    "18:00-02:00" runs past midnight, "closed" is a day off."""

    monday: Hours = ALL_DAY
    tuesday: Hours = ALL_DAY
    wednesday: Hours = ALL_DAY
    thursday: Hours = ALL_DAY
    friday: Hours = ALL_DAY
    saturday: Hours = ALL_DAY
    sunday: Hours = ALL_DAY


class SiteLimitsTable(msgspec.Struct, frozen=True, kw_only=True):
    """When to raise an alarm for the box itself."""

    disk_free_mb: Annotated[
        int, asks("Less room than this on its disk, in MB.", whole(1, 10_000_000), example="500")
    ] = 500
    sink_late_s: Annotated[
        float,
        asks(
            "Rows waiting for a receiver, and none sent for longer than this.",
            quantity(kinds.SPAN_S, low=60.0),
            example='"6 h"',
        ),
    ] = msgspec.field(name="sink_late", default=21_600.0)


class SiteTable(msgspec.Struct, frozen=True, kw_only=True):
    """The place."""

    id: Annotated[
        str,
        asks("Short name of the site in messages.", ident, example='"harbour-steps"', live=True),
    ]
    name: Annotated[str, asks("Name shown to people.", words, example='"Harbour Steps"', live=True)]
    what: Annotated[
        str, asks("What the place is.", words, example='"café with a two-group espresso machine"')
    ] = ""
    service: Annotated[
        str, asks("Who comes when a cartridge is due.", words, example='"Northgate Water Care"')
    ] = ""
    time_zone: Annotated[
        str,
        asks(
            "Time zone, by its IANA name or as UTC+05:30.",
            time_zone,
            example='"Europe/Berlin"',
            live=True,
        ),
    ] = "UTC"
    language: Annotated[
        str,
        asks(
            "Language of notices and papers, and of pages for whoever has chosen none.",
            language_code,
            example='"en"',
        ),
    ] = "en"
    opening: Annotated[OpeningTable, asks("Opening hours.")] = OpeningTable()
    limits: Annotated[SiteLimitsTable, asks("Alarm limits of the box.")] = SiteLimitsTable()


class LimitsTable(msgspec.Struct, frozen=True, kw_only=True):
    """When to raise an alarm for the line above."""

    outlet_high_mmol_l: Annotated[
        float | None,
        asks(
            "Blended water harder than this, of the hardness the medium works on.",
            quantity(kinds.HARDNESS),
            example='"8 dH"',
        ),
    ] = msgspec.field(name="outlet_hardness_high", default=None)
    litres_low_share: Annotated[
        float,
        asks(
            "Litres left under this share of the cartridge's whole.",
            quantity(kinds.SHARE),
            example='"15 %"',
        ),
    ] = msgspec.field(name="litres_low_share", default=0.15)
    litres_low_l: Annotated[
        float | None,
        asks("Litres left under this.", quantity(kinds.VOLUME), example='"200 L"'),
    ] = msgspec.field(name="litres_low", default=None)
    days_low: Annotated[
        float, asks("Days left under this.", quantity(kinds.SPAN_DAYS), example='"14 day"')
    ] = 14.0
    gap_s: Annotated[
        float,
        asks(
            "No readings for longer than this.",
            quantity(kinds.SPAN_S, low=1.0),
            example='"15 min"',
        ),
    ] = msgspec.field(name="data_gap", default=900.0)
    outlet_low_mmol_l: Annotated[
        float | None,
        asks(
            "Blended water softer than this, of the hardness the medium works on.",
            quantity(kinds.HARDNESS),
            example='"3 dH"',
        ),
    ] = msgspec.field(name="outlet_hardness_low", default=None)
    profile: Annotated[
        str,
        asks(
            "Brew-water profile the machine's water is held against; left out, none.",
            example='"coffee-2018"',
            words=tuple(WINDOWS),
        ),
    ] = ""
    share_now: Annotated[
        float,
        asks(
            "Change at once with litres left under this share of the whole.",
            quantity(kinds.SHARE),
            example='"3 %"',
        ),
    ] = msgspec.field(name="litres_now_share", default=0.03)
    days_now: Annotated[
        float,
        asks(
            "Change at once with days left under this.",
            quantity(kinds.SPAN_DAYS),
            example='"3 day"',
        ),
    ] = 3.0
    bypass_off: Annotated[
        float,
        asks(
            "The bypass that is seen this far from the one that is set.",
            quantity(kinds.SHARE, low=0.01),
            example='"10 %"',
        ),
    ] = 0.10
    leak_l_h: Annotated[
        float,
        asks(
            "Flow with the place shut above this.",
            quantity(kinds.SMALL_FLOW),
            example='"2 L/h"',
        ),
    ] = msgspec.field(name="leak", default=2.0)
    no_flow_h: Annotated[
        float,
        asks(
            "No flow with the place open for longer than this.",
            quantity(kinds.SPAN_H, low=0.5),
            example='"4 h"',
        ),
    ] = msgspec.field(name="no_flow", default=4.0)
    standing_h: Annotated[
        float,
        asks(
            "Water that stood for longer than this.",
            quantity(kinds.SPAN_H, low=1.0),
            example='"72 h"',
        ),
    ] = msgspec.field(name="standing", default=72.0)
    flush_l: Annotated[
        float,
        asks("Flush then with this much.", quantity(kinds.VOLUME, high=1000.0), example='"5 L"'),
    ] = msgspec.field(name="flush", default=5.0)
    cold_c: Annotated[
        float,
        asks("Cold water warmer than this.", quantity(kinds.TEMPERATURE), example='"25 °C"'),
    ] = msgspec.field(name="cold_water", default=25.0)


class LineTable(msgspec.Struct, frozen=True, kw_only=True):
    """A filter position: its cartridge, its probes, the machines behind it."""

    id: Annotated[str, asks("Short name of the line.", ident, example='"bar"', live=True)]
    medium: Annotated[
        str, asks("What is in the cartridge.", example='"hydrogen"', live=True, words=media.names())
    ]
    size: Annotated[
        str | None,
        asks(
            "What the cartridge's size is called, so that the right one is brought.",
            words,
            example='"XL"',
        ),
    ] = None
    capacity_mmol: Annotated[
        float | None,
        asks(
            "Capacity of one new cartridge, as its maker rates it.",
            quantity(kinds.CAPACITY),
            example='"3600 dH*L"',
            live=True,
        ),
    ] = msgspec.field(name="capacity", default=None)
    capacity_kind: Annotated[
        CapacityKind | None,
        asks(
            "The hardness that the capacity counts; left out, the one the medium works on.",
            example='"carbonate"',
        ),
    ] = None
    capacity_relative_sd: Annotated[
        float,
        asks(
            "How far a cartridge's true capacity may be from its rating (one standard deviation).",
            quantity(kinds.SHARE, low=0.001),
            example='"10 %"',
        ),
    ] = msgspec.field(name="capacity_spread", default=0.10)
    rated_l: Annotated[
        float | None,
        asks(
            "Life in litres, instead of capacity.",
            quantity(kinds.VOLUME, low=1.0),
            example='"1200 L"',
        ),
    ] = msgspec.field(name="rated_life", default=None)
    rated_hardness_mmol_l: Annotated[
        float | None,
        asks(
            "The raw water's hardness (of the capacity's kind) that rated_life is stated for.",
            quantity(kinds.HARDNESS, low=0.01),
            example='"10 dH"',
        ),
    ] = msgspec.field(name="rated_hardness", default=None)
    rated_bypass: Annotated[
        float | None,
        asks(
            "The bypass that rated_life is stated for.",
            quantity(kinds.SHARE, high=0.95),
            example='"30 %"',
        ),
    ] = None
    time_limit_days: Annotated[
        float | None,
        asks(
            "Longest time a cartridge may stay in.",
            quantity(kinds.SPAN_DAYS, low=1.0, high=3660.0),
            example='"12 month"',
            live=True,
        ),
    ] = msgspec.field(name="time_limit", default=None)
    carbon_l: Annotated[
        float | None,
        asks(
            "Litres that the cartridge's carbon lasts.",
            quantity(kinds.VOLUME, low=1.0),
            example='"10000 L"',
        ),
    ] = msgspec.field(name="carbon", default=None)
    bypass: Annotated[
        float,
        asks(
            "Share of the water that goes round the medium, as set on the head.",
            quantity(kinds.SHARE, high=0.95),
            example='"0 %"',
            live=True,
        ),
    ] = 0.0
    arrangement: Annotated[
        Literal["single", "parallel", "series"],
        asks("One cartridge, twins side by side, or one after the other.", example='"single"'),
    ] = "single"
    cartridges: Annotated[
        int | None,
        asks(
            "How many cartridges stand in parallel or in series; one if single, else two.",
            whole(1, 12),
            example="1",
        ),
    ] = None
    probes: Annotated[
        tuple[Literal["outlet", "inlet"], ...],
        asks("Conductivity probes that are there.", example='["outlet"]', live=True),
    ] = ("outlet",)
    flow_meter: Annotated[
        bool, asks("Whether a flow meter counts this line's water.", example="true")
    ] = True
    pulses_per_l: Annotated[
        float,
        asks(
            "K-factor on the flow meter's plate; measured later, it is a dated entry.",
            quantity(kinds.K_FACTOR),
            example='"1000 pulse/L"',
            live=True,
        ),
    ] = msgspec.field(name="k_factor", default=1000.0)
    litres_a_day: Annotated[
        float | None,
        asks(
            "Usual use, where no flow meter counts.",
            quantity(kinds.LITRES_A_DAY),
            example='"60 L/day"',
        ),
    ] = None
    rated_flow_l_min: Annotated[
        float | None,
        asks("Highest flow the cartridge is rated for.", quantity(kinds.FLOW), example='"2 L/min"'),
    ] = msgspec.field(name="rated_flow", default=None)
    end_share: Annotated[
        float,
        asks(
            "Capacity ends when this share of what a fresh bed removes has come back.",
            quantity(kinds.SHARE, low=0.01, high=0.95),
            example='"20 %"',
        ),
    ] = 0.2
    start_l: Annotated[
        float | None,
        asks(
            "The cartridge when logging begins: new, unknown, or litres that already passed it.",
            litres_passed(kinds.VOLUME),
            example='"unknown"',
        ),
    ] = msgspec.field(name="start", default=None)
    machines: Annotated[
        tuple[str, ...],
        asks("Machines behind the filter.", example='["two-group espresso machine"]'),
    ] = ()
    limits: Annotated[LimitsTable, asks("Alarm limits.")] = LimitsTable()
