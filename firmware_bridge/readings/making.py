"""One frame as one record of a block of rows: scaled, checked against what can be, flagged."""

from __future__ import annotations

from math import nan
from typing import Literal, TypeAlias

import msgspec

from analytics.samples import Flag
from firmware_bridge.firmware import frames

Record: TypeAlias = tuple[int, float, float, float, float, int, int]
"""at_ms, outlet_us_cm, outlet_temp_c, inlet_us_cm, inlet_temp_c, pulses, flags"""

Inputs: TypeAlias = Literal["both", "first", "second"]
"""Which of the node's probe inputs are a line's: both, or one of them alone as its outlet."""

HIGHEST_US_CM = 20_000.0
"""No drinking water conducts this much; sea water has about 50 000 uS/cm."""
LOWEST_C, HIGHEST_C = -20.0, 110.0

_VALUELESS = (frames.NO_READING, frames.FAULT)
_SIDES = (
    (frames.OUTLET_EC, frames.OUTLET_TEMP, Flag.OUTLET_SUSPECT),
    (frames.INLET_EC, frames.INLET_TEMP, Flag.INLET_SUSPECT),
)
_PLAIN = 0x00FFFFFF


class Values(msgspec.Struct, frozen=True):
    """The four values of a row with their flags; `absurd` of them were impossible and are NaN."""

    outlet_us_cm: float
    outlet_temp_c: float
    inlet_us_cm: float
    inlet_temp_c: float
    flags: int
    absurd: int


def values_of(
    row: frames.Data,
    outlet_cell: float = 1.0,
    inlet_cell: float = 1.0,
    *,
    inputs: Inputs = "both",
) -> Values:
    """A frame's values in uS/cm and C, of the inputs that are the line's.

    The node reads as if the cell constant were 1 per cm; `outlet_cell` and `inlet_cell` are the
    line's own probes'. A channel that says 'no reading' is NaN and nothing is held against it; a
    fault, a doubtful or an out-of-range value flags its side.
    """
    if inputs == "second":
        inlet_cell = outlet_cell
    found = _both(row, outlet_cell, inlet_cell)
    return found if inputs == "both" else _alone(found, row, first=inputs == "first")


def _both(row: frames.Data, outlet_cell: float, inlet_cell: float) -> Values:
    out_ec, out_t = row.outlet_ec * 0.01 * outlet_cell, row.outlet_temp * 0.001
    in_ec, in_t = row.inlet_ec * 0.01 * inlet_cell, row.inlet_temp * 0.001
    sound = (
        not row.status & _PLAIN
        and out_ec <= HIGHEST_US_CM
        and in_ec <= HIGHEST_US_CM
        and LOWEST_C <= out_t <= HIGHEST_C
        and LOWEST_C <= in_t <= HIGHEST_C
    )
    if sound:
        return Values(out_ec, out_t, in_ec, in_t, 0, 0)
    return _doubted(row.status, [out_ec, out_t, in_ec, in_t])


def _alone(both: Values, row: frames.Data, *, first: bool) -> Values:
    """One input as the outlet of its line; the other is none of the line's business."""
    suspect = Flag.OUTLET_SUSPECT if first else Flag.INLET_SUSPECT
    flags = Flag.OUTLET_SUSPECT if both.flags & suspect else Flag.GOOD
    ec, temp = (
        (both.outlet_us_cm, both.outlet_temp_c) if first else (both.inlet_us_cm, both.inlet_temp_c)
    )
    channels = _SIDES[0 if first else 1][:2]
    absurd = sum(
        value != value and frames.channel_status(row.status, channel) not in _VALUELESS
        for channel, value in zip(channels, (ec, temp), strict=True)
    )
    return Values(ec, temp, nan, nan, int(flags), absurd)


def count_missing(status: int, channel: int) -> bool:
    """Whether a row has no count of this meter."""
    return frames.channel_status(status, channel) in _VALUELESS


def _doubted(status: int, values: list[float]) -> Values:
    flags, absurd = Flag.GOOD, 0
    for ec, temp, suspect in _SIDES:
        for channel in (ec, temp):
            state = frames.channel_status(status, channel)
            if state in _VALUELESS:
                values[channel] = nan
            elif not _possible(channel, values[channel]):
                values[channel] = nan
                absurd += 1
                flags |= suspect
            if state not in (frames.GOOD, frames.NO_READING):
                flags |= suspect
    out_ec, out_t, in_ec, in_t = values
    return Values(out_ec, out_t, in_ec, in_t, int(flags), absurd)


def _possible(channel: int, value: float) -> bool:
    if channel in (frames.OUTLET_EC, frames.INLET_EC):
        return value <= HIGHEST_US_CM
    return LOWEST_C <= value <= HIGHEST_C
