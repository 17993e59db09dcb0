"""What an act must be to be written down. A fault is (field, code); faces put codes into words."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from typing import Any, TypeAlias

import msgspec

from analytics.alarm import rules
from analytics.alarm_life import LONGEST_SHELF_MS
from analytics.samples import (
    DAY_MS,
    MINUTE_MS,
    Acknowledged,
    AnyEvent,
    BypassSet,
    CartridgeFitted,
    Closure,
    Commissioning,
    CrossZero,
    DropTest,
    Event,
    InService,
    KFactorSet,
    MeterReading,
    MeterReplaced,
    Note,
    OutOfService,
    Part,
    ProbeCalibrated,
    Shelved,
    Unshelved,
    UtilityReport,
    Withdrawn,
)
from analytics.setup import LineSetup, SiteSetup

Fault: TypeAlias = tuple[str, str]

EARLIEST_MS = 946_684_800_000
"""2000-01-01."""
AHEAD_MS = 2 * MINUTE_MS
"""How far a phone's clock may be ahead of ours."""
LONGEST_CLOSURE_MS = 400 * DAY_MS
FURTHEST_CLOSURE_MS = 732 * DAY_MS
LONGEST_NOTE, LONGEST_WORD = 500, 60

SPANS: dict[str, tuple[float, float]] = {
    "hardness_mmol_l": (0.0, 50.0),
    "hardness_step_mmol_l": (0.001, 2.0),
    "alkalinity_meq_l": (0.0, 100.0),
    "alkalinity_step_meq_l": (0.002, 4.0),
    "calcium_mmol_l": (0.0, 50.0),
    "calcium_step_mmol_l": (0.001, 2.0),
    "magnesium_mmol_l": (0.0, 50.0),
    "ec25_us_cm": (0.0, 200_000.0),
    "outlet_us_cm": (0.0, 200_000.0),
    "inlet_us_cm": (0.0, 200_000.0),
    "outlet_temp_c": (-10.0, 110.0),
    "inlet_temp_c": (-10.0, 110.0),
    "litres_before": (0.0, 1e9),
    "litres_before_sd": (0.0, 1e9),
    "litres": (0.0, 1e9),
    "share": (0.0, 0.95),
    "pulses_per_l": (0.001, 1e6),
    "relative_sd": (0.0001, 1.0),
    "gain": (0.2, 5.0),
    "dry_us_cm": (0.0, 1000.0),
    "shows_l": (0.0, 1e9),
}
"""Between which values a figure is possible, in its base unit; the same as in the site file."""


OF_ALARMS = (Acknowledged, Shelved, Unshelved, OutOfService, InService)
OF_THE_PLACE = (Closure, Commissioning, Note, Withdrawn, *OF_ALARMS)
"""What may concern the whole place instead of a line."""


def faults_of(event: AnyEvent, site: SiteSetup, now_ms: int) -> list[Fault]:
    """Everything that is wrong with an act, by itself and for this site."""
    line = next((found for found in site.lines if found.line_id == event.line_id), None)
    found = [*_of_all(event, line, now_ms), *_spans(event)]
    check = CHECKS.get(type(event))
    return found + list(check(event, line, now_ms)) if check else found


def _of_all(event: Event, line: LineSetup | None, now_ms: int) -> Iterator[Fault]:
    if line is None and not (event.line_id == "" and isinstance(event, OF_THE_PLACE)):
        yield "line_id", "line"
    latest = now_ms + (FURTHEST_CLOSURE_MS if isinstance(event, Closure) else AHEAD_MS)
    if not isinstance(event, Withdrawn) and event.at_ms > latest:
        yield "at_ms", "future"
    if event.at_ms < EARLIEST_MS:
        yield "at_ms", "past"
    for name in ("who", "note", "cartridge_id", "event_id", "corrects"):
        text = getattr(event, name, "")
        longest = LONGEST_NOTE if name == "note" else LONGEST_WORD
        if len(text) > longest or not text.isprintable():
            yield name, "text"


def _spans(event: Event) -> Iterator[Fault]:
    for name, (low, high) in SPANS.items():
        value = getattr(event, name, None)
        if value is not None and not (math.isfinite(value) and low <= value <= high):
            yield name, "span"


def _drop_test(event: DropTest, line: LineSetup | None, now_ms: int) -> Iterator[Fault]:
    figures = (event.hardness_mmol_l, event.alkalinity_meq_l, event.calcium_mmol_l)
    if all(figure is None for figure in figures):
        yield "hardness_mmol_l", "missing"


def _report(event: UtilityReport, line: LineSetup | None, now_ms: int) -> Iterator[Fault]:
    figures = (event.hardness_mmol_l, event.alkalinity_meq_l, event.calcium_mmol_l,
               event.magnesium_mmol_l, event.ec25_us_cm)  # fmt: skip
    if all(figure is None for figure in figures):
        yield "hardness_mmol_l", "missing"


def _probe(event: ProbeCalibrated, line: LineSetup | None, now_ms: int) -> Iterator[Fault]:
    there = {"outlet": line.outlet_probe, "inlet": line.inlet_probe} if line else {}
    if not there.get(event.probe, False):
        yield "probe", "no-probe"


def _replaced(event: MeterReplaced, line: LineSetup | None, now_ms: int) -> Iterator[Fault]:
    there = (
        {
            Part.OUTLET_PROBE: line.outlet_probe,
            Part.INLET_PROBE: line.inlet_probe,
            Part.FLOW_METER: line.flow_meter,
        }
        if line
        else {}
    )
    if not there.get(event.part, False):
        yield "part", "no-probe"


def _cross_zero(event: CrossZero, line: LineSetup | None, now_ms: int) -> Iterator[Fault]:
    if (event.inlet_us_cm is None) != (event.inlet_temp_c is None):
        yield "inlet_us_cm", "half"
    if line is not None and not line.outlet_probe:
        yield "outlet_us_cm", "no-probe"


def _closure(
    event: Closure | Commissioning, line: LineSetup | None, now_ms: int
) -> Iterator[Fault]:
    if not event.at_ms < event.until_ms <= event.at_ms + LONGEST_CLOSURE_MS:
        yield "until_ms", "until"


def _alarm(event: Any, line: LineSetup | None, now_ms: int) -> Iterator[Fault]:
    """An alarm of a line goes with its line, one of the box with none."""
    rule = next((found for found in rules() if found.name == event.alarm), None)
    if rule is None or rule.of_site != (event.line_id == ""):
        yield "alarm", "alarm"
    if isinstance(event, OutOfService) and not event.note.strip():
        yield "note", "reason"


def _shelved(event: Shelved, line: LineSetup | None, now_ms: int) -> Iterator[Fault]:
    yield from _alarm(event, line, now_ms)
    if not now_ms < event.until_ms <= now_ms + LONGEST_SHELF_MS:
        yield "until_ms", "shelf"
    if not event.note.strip():
        yield "note", "reason"


def _note(event: Note, line: LineSetup | None, now_ms: int) -> Iterator[Fault]:
    if not event.note.strip():
        yield "note", "missing"


CHECKS: dict[type[msgspec.Struct], Callable[[Any, LineSetup | None, int], Iterator[Fault]]] = {
    DropTest: _drop_test,
    UtilityReport: _report,
    ProbeCalibrated: _probe,
    CrossZero: _cross_zero,
    MeterReplaced: _replaced,
    Closure: _closure,
    Commissioning: _closure,
    **dict.fromkeys(OF_ALARMS, _alarm),
    Shelved: _shelved,
    Note: _note,
}
ACTS = (DropTest, CartridgeFitted, BypassSet, KFactorSet, ProbeCalibrated, CrossZero,
        UtilityReport, MeterReading, MeterReplaced, Closure, Commissioning, Note,
        *OF_ALARMS)  # fmt: skip
"""What a person may write down. A `Withdrawn` is made by undoing or correcting an entry."""
