"""Dated entries of a site file: what has a date is an event, brought into the store once."""

from __future__ import annotations

import hashlib
from typing import Annotated, Any, Literal

import msgspec

from analytics import samples
from analytics.samples import AnyEvent, Part, Point
from firmware_bridge.config import kinds
from firmware_bridge.config.readers import (
    asks,
    ident,
    instant,
    litres_passed,
    quantity,
    ratio,
    words,
)
from firmware_bridge.config.wiring import SITE_FILE

SPREAD = quantity(kinds.SHARE, low=0.0001)


class DatedEntry(msgspec.Struct, frozen=True, kw_only=True):
    """What every dated entry has."""

    at_ms: Annotated[
        int,
        asks(
            "When, with its offset or by the site's clock.",
            instant,
            example="2026-03-02T09:30:00",
            live=True,
        ),
    ] = msgspec.field(name="at")
    line_id: Annotated[
        str, asks("The line; left out where the site has one.", ident, example='"bar"')
    ] = msgspec.field(name="line", default="")
    who: Annotated[str, asks("Who did it.", words, example='"installer"')] = ""
    note: Annotated[str, asks("A remark.", words, example='"tap behind the head"')] = ""


class CartridgeFittedEntry(DatedEntry, frozen=True, kw_only=True):
    """A cartridge was put in."""

    litres_before: Annotated[
        float | None,
        asks(
            "Litres that had already passed it: new, unknown, or a volume.",
            litres_passed(kinds.VOLUME),
            example='"new"',
            live=True,
        ),
    ] = None
    litres_before_sd: Annotated[
        float,
        asks("How sure that is (one standard deviation).", quantity(kinds.VOLUME), example='"0 L"'),
    ] = msgspec.field(name="litres_before_spread", default=0.0)
    cartridge_id: Annotated[str, asks("Serial number or label.", words, example='"C-0001"')] = (
        msgspec.field(name="cartridge", default="")
    )


class DropTestEntry(DatedEntry, frozen=True, kw_only=True):
    """A titration by drops: the value is the one at the colour change, the step is one drop."""

    point: Annotated[
        Point,
        asks(
            "Where the water was taken: raw, treated (straight from the medium) or blended"
            " (what the machine gets, after the bypass).",
            example='"raw"',
            live=True,
        ),
    ]
    hardness_mmol_l: Annotated[
        float | None,
        asks("Total hardness.", quantity(kinds.HARDNESS), example='"18 dH"', live=True),
    ] = msgspec.field(name="hardness", default=None)
    hardness_step_mmol_l: Annotated[
        float,
        asks("One drop.", quantity(kinds.HARDNESS, low=0.001, high=2.0), example='"1 dH"'),
    ] = msgspec.field(name="hardness_step", default=10 / 56.077)
    alkalinity_meq_l: Annotated[
        float | None,
        asks(
            'Alkalinity: what a "KH" test titrates.',
            quantity(kinds.ALKALINITY),
            example='"16 dH"',
            live=True,
        ),
    ] = msgspec.field(name="alkalinity", default=None)
    alkalinity_step_meq_l: Annotated[
        float,
        asks("One drop.", quantity(kinds.ALKALINITY, low=0.002, high=4.0), example='"1 dH"'),
    ] = msgspec.field(name="alkalinity_step", default=20 / 56.077)
    calcium_mmol_l: Annotated[
        float | None, asks("Calcium.", quantity(kinds.CALCIUM), example='"12 dH"')
    ] = msgspec.field(name="calcium", default=None)
    calcium_step_mmol_l: Annotated[
        float,
        asks("One drop.", quantity(kinds.CALCIUM, low=0.001, high=2.0), example='"1 dH"'),
    ] = msgspec.field(name="calcium_step", default=10 / 56.077)


class BypassSetEntry(DatedEntry, frozen=True, kw_only=True):
    """The bypass was turned."""

    share: Annotated[
        float,
        asks("To this share.", quantity(kinds.SHARE, high=0.95), example='"30 %"', live=True),
    ] = msgspec.field(name="bypass")


class KFactorSetEntry(DatedEntry, frozen=True, kw_only=True):
    """The flow meter was calibrated with a measured jug."""

    pulses_per_l: Annotated[
        float,
        asks("K-factor found.", quantity(kinds.K_FACTOR), example='"1380 pulse/L"', live=True),
    ] = msgspec.field(name="k_factor")
    relative_sd: Annotated[
        float, asks("Its spread (one standard deviation).", SPREAD, example='"3 %"')
    ] = msgspec.field(name="spread", default=0.03)


class ProbeCalibratedEntry(DatedEntry, frozen=True, kw_only=True):
    """A probe was checked in a standard solution."""

    probe: Annotated[Literal["outlet", "inlet"], asks("Which one.", example='"outlet"', live=True)]
    gain: Annotated[
        float,
        asks("True over read, both at 25 °C.", ratio(0.2, 5.0), example="1.02", live=True),
    ]
    relative_sd: Annotated[
        float, asks("Its spread (one standard deviation).", SPREAD, example='"0.5 %"')
    ] = msgspec.field(name="spread", default=0.005)
    dry_us_cm: Annotated[
        float, asks("What it read dry.", quantity(kinds.CONDUCTIVITY), example='"0 uS/cm"')
    ] = msgspec.field(name="dry", default=0.0)


class CrossZeroEntry(DatedEntry, frozen=True, kw_only=True):
    """All probes read raw water at one time; as read, not referred to 25 °C."""

    outlet_us_cm: Annotated[
        float,
        asks("Outlet probe.", quantity(kinds.CONDUCTIVITY), example='"557.8 uS/cm"', live=True),
    ] = msgspec.field(name="outlet")
    outlet_temp_c: Annotated[
        float,
        asks("Its water's temperature.", quantity(kinds.TEMPERATURE), example='"15 °C"', live=True),
    ] = msgspec.field(name="outlet_temperature")
    inlet_us_cm: Annotated[
        float | None,
        asks("Inlet probe.", quantity(kinds.CONDUCTIVITY), example='"551.2 uS/cm"'),
    ] = msgspec.field(name="inlet", default=None)
    inlet_temp_c: Annotated[
        float | None,
        asks("Its water's temperature.", quantity(kinds.TEMPERATURE), example='"15 °C"'),
    ] = msgspec.field(name="inlet_temperature", default=None)


class UtilityReportEntry(DatedEntry, frozen=True, kw_only=True):
    """What the water company states for a year."""

    hardness_mmol_l: Annotated[
        float | None,
        asks("Total hardness.", quantity(kinds.HARDNESS), example='"16.7 dH"', live=True),
    ] = msgspec.field(name="hardness", default=None)
    alkalinity_meq_l: Annotated[
        float | None,
        asks(
            "Alkalinity, or acid capacity to pH 4.3.",
            quantity(kinds.ALKALINITY),
            example='"5.26 mmol/L"',
            live=True,
        ),
    ] = msgspec.field(name="alkalinity", default=None)
    calcium_mmol_l: Annotated[
        float | None, asks("Calcium.", quantity(kinds.CALCIUM), example='"66 mg/L"')
    ] = msgspec.field(name="calcium", default=None)
    magnesium_mmol_l: Annotated[
        float | None, asks("Magnesium.", quantity(kinds.MAGNESIUM), example='"32.6 mg/L"')
    ] = msgspec.field(name="magnesium", default=None)
    ec25_us_cm: Annotated[
        float | None,
        asks("Conductivity at 25 °C.", quantity(kinds.CONDUCTIVITY), example='"620 uS/cm"'),
    ] = msgspec.field(name="conductivity", default=None)
    relative_sd: Annotated[
        float, asks("Its spread (one standard deviation).", SPREAD, example='"7 %"')
    ] = msgspec.field(name="spread", default=0.07)


class MeterReadingEntry(DatedEntry, frozen=True, kw_only=True):
    """A person read the water meter of the line."""

    litres: Annotated[
        float, asks("What it showed.", quantity(kinds.VOLUME), example='"48210 L"', live=True)
    ] = msgspec.field(name="shows")


class MeterReplacedEntry(DatedEntry, frozen=True, kw_only=True):
    """A probe or the flow meter was replaced."""

    part: Annotated[Part, asks("Which one.", example='"flow-meter"', live=True)]
    pulses_per_l: Annotated[
        float | None,
        asks(
            "K-factor of the new flow meter; left out, the line's.",
            quantity(kinds.K_FACTOR),
            example='"1380 pulse/L"',
        ),
    ] = msgspec.field(name="k_factor", default=None)
    relative_sd: Annotated[
        float, asks("Its spread (one standard deviation).", SPREAD, example='"3 %"')
    ] = msgspec.field(name="spread", default=0.03)
    shows_l: Annotated[
        float,
        asks("What its counter showed when fitted.", quantity(kinds.VOLUME), example='"0 L"'),
    ] = msgspec.field(name="shows", default=0.0)


class ClosureEntry(DatedEntry, frozen=True, kw_only=True):
    """The place is shut for a while."""

    until_ms: Annotated[
        int, asks("Until when.", instant, example="2026-03-09T07:00:00", live=True)
    ] = msgspec.field(name="until")


class NoteEntry(DatedEntry, frozen=True, kw_only=True):
    """A remark, in note: something seen or done that no other entry tells."""


class CommissioningEntry(DatedEntry, frozen=True, kw_only=True):
    """Somebody works on the line: what that causes is no alarm."""

    until_ms: Annotated[
        int, asks("Until when.", instant, example="2026-03-02T12:00:00", live=True)
    ] = msgspec.field(name="until")


DATED: dict[str, tuple[type[DatedEntry], Any]] = {
    "cartridge-fitted": (CartridgeFittedEntry, samples.CartridgeFitted),
    "drop-test": (DropTestEntry, samples.DropTest),
    "bypass-set": (BypassSetEntry, samples.BypassSet),
    "k-factor-set": (KFactorSetEntry, samples.KFactorSet),
    "probe-calibrated": (ProbeCalibratedEntry, samples.ProbeCalibrated),
    "cross-zero": (CrossZeroEntry, samples.CrossZero),
    "utility-report": (UtilityReportEntry, samples.UtilityReport),
    "meter-reading": (MeterReadingEntry, samples.MeterReading),
    "meter-replaced": (MeterReplacedEntry, samples.MeterReplaced),
    "closure": (ClosureEntry, samples.Closure),
    "commissioning": (CommissioningEntry, samples.Commissioning),
    "note": (NoteEntry, samples.Note),
}
"""Kind in the file -> (its table, its event)."""


def event_of(kind: str, entry: DatedEntry, line_id: str) -> AnyEvent:
    """The event of an entry.

    Its id is a digest of what it says, so that the same entry is the same event however often the
    file is read; it counts as known from the moment it happened.
    """
    stated = {**msgspec.structs.asdict(entry), "line_id": line_id}
    digest = hashlib.sha256(msgspec.json.encode([kind, stated])).hexdigest()[:16]
    event: AnyEvent = DATED[kind][1](
        **stated, known_at_ms=entry.at_ms, event_id=f"{SITE_FILE}{digest}"
    )
    return event
