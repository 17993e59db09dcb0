"""One quick life: plan, main, cafe and faults of `tests.lives`, the bed by the own column model.

An hour is a draw, a life takes a tenth of a second to make. Such lives test whether the ranges are
honest where the model is right; whether the model is right only PHREEQC's lives can tell.
"""

from __future__ import annotations

from typing import NamedTuple

import msgspec
import numpy as np

from analytics.chemistry.temperature import f25_where_defined
from analytics.samples import (
    DRAW_COLUMNS,
    DRAW_WHOLE,
    HOUR_MS,
    AnyEvent,
    CartridgeFitted,
    CrossZero,
    Draws,
    DropTest,
    Floats,
    Ints,
    Point,
    UtilityReport,
)
from analytics.setup import CapacityKind, LineSetup, LocalTime, SiteSetup
from firmware_bridge.backtest.truth import Happening, Truth
from tests.lives.cafe import Flow, draws, with_leak
from tests.lives.happenings import Happenings, leading, recorded
from tests.lives.installer import drops
from tests.lives.life import wished
from tests.lives.plan import Plan, plan
from tests.lives.probes import Fouling
from tests.lives.supply import Switch, supply
from tests.quick_lives.bed import Course, make_family, run_bed

DH = 0.178326
KINDS = {
    "hydrogen": CapacityKind.CARBONATE,
    "mixed": CapacityKind.CARBONATE,
    "sodium": CapacityKind.TOTAL,
    "magnesium": CapacityKind.CALCIUM,
}


class QuickLife(NamedTuple):
    """A site, what its meters gave, and the truth."""

    setup: SiteSetup
    draws: Draws
    end_ms: int
    truth: Truth


class EndlessError(Exception):
    """Raised when the drawn bed outlives every record."""


def quick_life(number: int, seed: int, scenario: str | None = None) -> QuickLife:
    """The life of this number; a draw without an end within its record is drawn again."""
    wish = wished(number)
    if scenario is not None:
        wish = msgspec.structs.replace(wish, scenario=scenario)
    for attempt in range(8):
        rng = np.random.default_rng([seed, number, attempt])
        try:
            return _live(plan(number, wish, rng), rng)
        except EndlessError:
            continue
    raise EndlessError(f"life {number} of seed {seed}")


def _live(it: Plan, rng: np.random.Generator) -> QuickLife:
    when_s = it.event_share * it.days_expected * 86400
    happen = leading(it, when_s, rng)
    days = int(min(it.days_expected * 1.9 + 20, 380))
    seasonal = it.days_expected if it.scenario == "seasonal" else None
    day_of_year = it.install.timetuple().tm_yday
    main = supply(it.waters, days, day_of_year, seasonal, happen.switch, rng)
    drawn = draws(it.cafe, it.install, it.utc_offset_h, days, rng)
    if (leak := happen.leak) is not None:
        drawn = with_leak(drawn, leak.start_s, leak.end_s, leak.litres_an_hour)
    flow = Flow(drawn)
    hours_s = main.hours_s
    litres = flow.litres(hours_s)
    bypass = np.full(len(hours_s), it.bypass_true)
    if happen.bypass_at_s is not None and it.bypass_later is not None:
        bypass[hours_s >= happen.bypass_at_s] = it.bypass_later
    course = run_bed(it, make_family(it, main.rows, rng), main.rows, litres, bypass)
    end = int(np.searchsorted(course.life, 1.0))
    if end >= len(hours_s) - 48:
        raise EndlessError
    low, high = {"healthy": (0.3, 0.6), "overrun": (1.3, 1.5)}.get(it.scenario, (1.06, 1.14))
    stop = int(np.searchsorted(litres, litres[end] * rng.uniform(low, high)))
    stop = min(max(stop, 30), len(hours_s) - 1)
    happen = recorded(it, happen, when_s, float(hours_s[stop]), rng)
    begin = round(it.install.timestamp() * 1000)
    truth = _truth(it, course, begin, litres, end, stop, happen.switch, hours_s)
    events = _events(it, course, begin, stop, rng)
    seen = _seen(it, course, happen, flow, hours_s[: stop + 1], begin, rng)
    line = _line(it)
    local = LocalTime(offset_s=(it.utc_offset_h * 3600,))
    setup = SiteSetup(
        site_id=it.name, name=it.name, lines=(line,), dated=(*events, seen[1]), local_time=local
    )
    return QuickLife(setup, seen[0], begin + stop * HOUR_MS, truth)


def _line(it: Plan) -> LineSetup:
    return LineSetup(
        line_id="bar",
        medium=it.medium,
        capacity_mmol=it.rated_dh_l * DH,
        capacity_kind=KINDS[it.medium],
        bypass=it.bypass_set,
        inlet_probe=it.pair,
        pulses_per_l=it.k_factor,
    )


def _truth(
    it: Plan,
    course: Course,
    begin: int,
    litres: Floats,
    end: int,
    stop: int,
    switch: Switch | None,
    hours_s: Floats,
) -> Truth:
    happenings: tuple[Happening, ...] = ()
    if switch is not None and switch.start_s < hours_s[stop]:
        at_ms = begin + round(switch.start_s * 1000)
        happenings = (Happening(kind="source_change", start_ms=at_ms),)
    return Truth(
        name=it.name,
        medium=it.medium,
        pair=it.pair,
        total_l=float(litres[end]),
        end_ms=begin + end * HOUR_MS if end <= stop else None,
        begin_ms=begin,
        days=stop / 24.0,
        hour_ms=begin + np.arange(stop + 1, dtype=np.int64) * HOUR_MS,
        litres=litres[: stop + 1],
        outlet_mmol_l=course.outlet_kind[: stop + 1],
        raw_mmol_l=course.raw_kind[: stop + 1],
        happenings=happenings,
    )


def _events(
    it: Plan, course: Course, begin: int, stop: int, rng: np.random.Generator
) -> list[AnyEvent]:
    """Cartridge, report, and drop tests at the installation and at later visits."""
    common = 1.0 + float(np.clip(rng.normal(0, 0.07), -0.18, 0.18))
    first, second = it.waters
    each = {
        key: (0.7 * getattr(first, key) + 0.3 * getattr(second, key))
        * common
        * (1.0 + float(rng.normal(0, 0.015)))
        for key in ("ca", "mg", "alk")
    }
    report = UtilityReport(
        at_ms=begin,
        event_id="u",
        hardness_mmol_l=each["ca"] + each["mg"],
        alkalinity_meq_l=each["alk"],
        calcium_mmol_l=each["ca"],
        magnesium_mmol_l=each["mg"],
    )
    moments = [(1_800_000, Point.RAW, 0), (7_200_000, Point.BLENDED, 2)]
    visits = int(rng.choice([0, 0, 0, 1, 1, 2, 3]))
    for share in np.sort(rng.uniform(0.1, 0.98, visits)):
        hour = int(share * stop)
        moments.append((hour * HOUR_MS, Point.BLENDED, hour))
        if rng.random() < 0.55:
            moments.append((hour * HOUR_MS + 600_000, Point.RAW, hour))
    tests = [_test(course, begin + at, point, hour, rng) for at, point, hour in moments]
    return [CartridgeFitted(at_ms=begin, litres_before=0.0, event_id="c"), report, *tests]


def _test(course: Course, at: int, point: Point, hour: int, rng: np.random.Generator) -> DropTest:
    raw = (course.raw.hardness_mmol_l[hour], course.raw.alkalinity_meq_l[hour])
    hardness, alkalinity = (
        raw
        if point is Point.RAW
        else (
            course.outlet[0][hour],
            course.outlet[1][hour],
        )
    )
    return DropTest(
        at_ms=at,
        event_id=f"d{at}",
        point=point,
        hardness_mmol_l=drops(float(hardness) / DH, rng) * DH,
        alkalinity_meq_l=drops(float(alkalinity) / (2 * DH), rng) * 2 * DH,
    )


def _seen(
    it: Plan,
    course: Course,
    happen: Happenings,
    flow: Flow,
    hours_s: Floats,
    begin: int,
    rng: np.random.Generator,
) -> tuple[Draws, CrossZero]:
    """An hour a draw, as the meters have it, and both probes in raw water at the start."""
    count = len(hours_s)
    days = hours_s / 86400.0
    drawn: dict[str, Floats] = {}
    for where, ec25, faults in (
        ("outlet", course.outlet_ec25, happen.outlet),
        ("inlet", course.raw.ec25_us_cm, happen.inlet),
    ):
        gain = 1.0 + rng.normal(0, 0.022)
        slope = rng.normal(0, 1.3e-4)
        value = ec25[:count] * gain * (1.0 + slope * days)
        for fault in faults:
            if isinstance(fault, Fouling):
                value = value * fault.factor(hours_s)
        drawn[where] = value * (1.0 + rng.normal(0, 0.002, count))
        drawn[f"{where}_zero"] = np.array([course.raw.ec25_us_cm[0] * gain])
    pulses = _pulses(it, happen, flow, hours_s)
    kept = np.flatnonzero(pulses > 0)
    at = begin + (np.arange(1, count) * HOUR_MS - 1).astype(np.int64)
    nothing = np.full(len(kept), np.nan)
    columns = {
        "start_ms": at[kept] - 1_800_000,
        "end_ms": at[kept],
        "pulses": pulses[kept],
        "outlet_ec25_us_cm": drawn["outlet"][1:][kept],
        "outlet_temp_c": np.full(len(kept), 15.0),
        "inlet_ec25_us_cm": drawn["inlet"][1:][kept] if it.pair else nothing,
        "inlet_temp_c": np.full(len(kept), 15.0) if it.pair else nothing,
    }
    whole = {n: np.zeros(len(kept), dtype=np.int64) for n in DRAW_COLUMNS if n in DRAW_WHOLE}
    rest = {n: np.full(len(kept), np.nan) for n in DRAW_COLUMNS if n not in DRAW_WHOLE}
    back = 1.0 / float(f25_where_defined(15.0))
    zero = CrossZero(
        at_ms=begin + 900_000,
        event_id="x",
        outlet_us_cm=float(drawn["outlet_zero"][0] * (1.0 + rng.normal(0, 0.002))) * back,
        outlet_temp_c=15.0,
        inlet_us_cm=float(drawn["inlet_zero"][0] * (1.0 + rng.normal(0, 0.002))) * back
        if it.pair
        else None,
        inlet_temp_c=15.0 if it.pair else None,
    )
    return Draws(**(whole | rest | columns)), zero


def _pulses(it: Plan, happen: Happenings, flow: Flow, hours_s: Floats) -> Ints:
    """Whole pulses of every hour, as a meter with its faults counts them."""
    passed = np.diff(flow.litres(hours_s))
    middle = hours_s[1:] - 1800.0
    share = np.ones(len(passed))
    for fault in happen.pulse_faults:
        share[(middle > fault.start_s) & (middle < fault.end_s)] = fault.share
    for first, last in happen.outages:
        share[(middle > first) & (middle < last)] = 0.0
    total = np.floor(np.cumsum(passed * share) * it.k_factor_true)
    return np.diff(total, prepend=0.0).astype(np.int64)
