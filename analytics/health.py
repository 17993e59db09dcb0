"""Each meter's health in the words of NAMUR NE 107, from a quarter of an hour of its rows.

failure: no usable signal. function check: the signal is being worked on. out of specification: it
comes from beyond what the meter is made for. maintenance required: it serves, not for long.
"""

from __future__ import annotations

from typing import Final

import msgspec

from analytics.quarter import ProbeCount, Quarter
from analytics.samples import (
    DAY_MS,
    HOUR_MS,
    AnyEvent,
    CrossZero,
    Estimate,
    KFactorSet,
    ProbeCalibrated,
)
from analytics.setup import LineSetup

GOOD: Final = "good"
FAILURE: Final = "failure"
CHECK: Final = "function-check"
OUT_OF_SPEC: Final = "out-of-specification"
MAINTENANCE: Final = "maintenance-required"
CARES: Final = (OUT_OF_SPEC, MAINTENANCE)
"""What asks for care; a function check asks for nothing: somebody is at it already."""

CHECK_MS: Final = HOUR_MS
"""A calibration keeps a meter from measuring for about this long (common practice)."""
LEAST_ROWS: Final = 3
MANY: Final = 0.2
"""Share of doubtful rows from which a meter is out of specification (no source)."""
STILL_QUARTERS: Final = 8
LEAST_FLOWING: Final = 10
"""A probe that gives one figure to the last digit over so many quarters of flowing water, each with
so many rows, is stuck."""
COMPENSATED_C: Final = 35.0
"""The natural-water curve refers to 25 C from 0 to 35 C only (ISO 7888)."""
CLEAN_MS: Final = 14 * DAY_MS
"""A probe that stepped by itself is to be cleaned; the call stands this long."""
RESETS_A_DAY: Final = 3
LOWERS_EC: Final = ("hydrogen", "mixed", "membrane")
"""Media behind which water always conducts less."""


class Health(msgspec.Struct, frozen=True, kw_only=True):
    """A word of NE 107 and why."""

    word: str
    why: str = ""


class Meters(msgspec.Struct, frozen=True, kw_only=True):
    """How the meters of a line are; None where there is no such meter or no rows to judge by."""

    outlet: Health | None = None
    inlet: Health | None = None
    flow: Health | None = None


class Recent(msgspec.Struct, frozen=True, kw_only=True):
    """What health needs to know of earlier quarters: for how many each probe stood still at its
    figure, counter resets lately, and when each meter was last worked on."""

    outlet_still: int = 0
    outlet_at: float = 0.0
    inlet_still: int = 0
    inlet_at: float = 0.0
    resets: tuple[int, ...] = ()
    worked_on_ms: dict[str, int] = {}


WELL = Health(word=GOOD)


def outlet_of(meters: Meters) -> Health | None:
    """The outlet probe's health."""
    return meters.outlet


def inlet_of(meters: Meters) -> Health | None:
    """The inlet probe's health."""
    return meters.inlet


def flow_of(meters: Meters) -> Health | None:
    """The flow meter's health."""
    return meters.flow


def worked_on(recent: Recent, fact: AnyEvent) -> Recent:
    """Note a calibration."""
    match fact:
        case ProbeCalibrated():
            names: tuple[str, ...] = (fact.probe,)
        case CrossZero():
            names = ("outlet", "inlet")
        case KFactorSet():
            names = ("flow",)
        case _:
            return recent
    marks = recent.worked_on_ms | dict.fromkeys(names, fact.at_ms)
    return msgspec.structs.replace(recent, worked_on_ms=marks)


def judge(
    line: LineSetup, recent: Recent, quarter: Quarter, estimate: Estimate | None, at_ms: int
) -> tuple[Recent, Meters]:
    """Each meter's health at the end of a quarter that had rows."""
    recent = _remember(recent, quarter)
    if quarter.rows < LEAST_ROWS:
        return recent, Meters()
    meters = Meters(
        outlet=_probe(line, recent, quarter, estimate, at_ms, "outlet")
        if line.outlet_probe
        else None,
        inlet=_probe(line, recent, quarter, estimate, at_ms, "inlet") if line.inlet_probe else None,
        flow=_flow_meter(recent, quarter, at_ms) if line.flow_meter else None,
    )
    return recent, meters


def _remember(recent: Recent, quarter: Quarter) -> Recent:
    outlet_still, outlet_at = _still(recent.outlet_still, recent.outlet_at, quarter.outlet)
    inlet_still, inlet_at = _still(recent.inlet_still, recent.inlet_at, quarter.inlet)
    return msgspec.structs.replace(
        recent,
        outlet_still=outlet_still,
        outlet_at=outlet_at,
        inlet_still=inlet_still,
        inlet_at=inlet_at,
        resets=(*recent.resets, quarter.resets)[-96:],
    )


def _still(quarters: int, at: float, probe: ProbeCount) -> tuple[int, float]:
    """Quarters running in which flowing water gave one and the same figure."""
    if probe.flowing < LEAST_FLOWING:
        return quarters, at
    if probe.low != probe.high:
        return 0, 0.0
    return (quarters + 1 if probe.low == at else 1), probe.low


def _probe(
    line: LineSetup,
    recent: Recent,
    quarter: Quarter,
    estimate: Estimate | None,
    at_ms: int,
    name: str,
) -> Health:
    if _is_worked_on(recent, name, at_ms):
        return Health(word=CHECK, why="calibration")
    probe = quarter.outlet if name == "outlet" else quarter.inlet
    still = recent.outlet_still if name == "outlet" else recent.inlet_still
    half = quarter.rows / 2
    if probe.there < half:
        return Health(word=FAILURE, why="no-reading")
    for count, why in ((probe.dry, "dry"), (probe.short, "short"), (probe.no_temp, "no-temp")):
        if count > half:
            return Health(word=FAILURE, why=why)
    if still >= STILL_QUARTERS:
        return Health(word=FAILURE, why="stuck")
    if line.medium in LOWERS_EC and quarter.pairs > 1 and quarter.swapped == quarter.pairs:
        return Health(word=OUT_OF_SPEC, why="swapped")
    if probe.suspect > MANY * quarter.rows:
        return Health(word=OUT_OF_SPEC, why="doubtful")
    if COMPENSATED_C < quarter.coldest_c < 1e3:
        return Health(word=OUT_OF_SPEC, why="warm")
    if _wants_cleaning(estimate, at_ms, name):
        return Health(word=MAINTENANCE, why="clean")
    return WELL


def _is_worked_on(recent: Recent, name: str, at_ms: int) -> bool:
    begun = recent.worked_on_ms.get(name)
    return begun is not None and begun <= at_ms < begun + CHECK_MS


def _wants_cleaning(estimate: Estimate | None, at_ms: int, name: str) -> bool:
    """Whether the last step of the probes was most likely this one's own."""
    if estimate is None or estimate.change != "probe" or estimate.change_ms is None:
        return False
    whose = "inlet" if estimate.change_reason.startswith("inlet-alone") else "outlet"
    return whose == name and at_ms - estimate.change_ms < CLEAN_MS


def _flow_meter(recent: Recent, quarter: Quarter, at_ms: int) -> Health:
    if _is_worked_on(recent, "flow", at_ms):
        return Health(word=CHECK, why="calibration")
    if quarter.counted < quarter.rows / 2:
        return Health(word=FAILURE, why="no-reading")
    if quarter.flow_suspect > MANY * quarter.rows:
        return Health(word=OUT_OF_SPEC, why="doubtful")
    if sum(recent.resets) >= RESETS_A_DAY:
        return Health(word=MAINTENANCE, why="resets")
    return WELL
