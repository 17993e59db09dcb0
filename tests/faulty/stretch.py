"""Two to three weeks of a cafe with one fault in them, or none: rows, facts and what it was.

Cafe, main, meters and probes are those of `tests.lives`, the bed is the own column model's.
"""

from __future__ import annotations

from typing import NamedTuple

import msgspec
import numpy as np

from analytics.chemistry.temperature import f25
from analytics.samples import (
    HOUR_MS,
    AnyEvent,
    CartridgeFitted,
    CrossZero,
    DropTest,
    Floats,
    Ints,
    MeterReading,
    Point,
    Rows,
    UtilityReport,
)
from analytics.setup import LineSetup, LocalTime, Opening
from tests.faulty.kinds import CLOSES_AFTER_H, OPENS_BEFORE_H, Spoilt, World, kind_of, spoil
from tests.lives.cafe import Flow, Habits, draws, with_leak
from tests.lives.conductivity import TEMPERATURES_C
from tests.lives.installer import drops
from tests.lives.logger import pulses, row_times
from tests.lives.plan import Plan, Wish, plan
from tests.lives.probes import Place, probe, readings, room_c
from tests.lives.supply import Supply, supply
from tests.quick_lives.bed import Course, make_family, run_bed
from tests.quick_lives.life import DH, KINDS

DAY_S = 86400.0


class Stretch(NamedTuple):
    """What the meters gave, and what was wrong from `fault_ms` on."""

    fault: str
    line: LineSetup
    local: LocalTime
    rows: Rows
    events: tuple[AnyEvent, ...]
    begin_ms: int
    fault_ms: int
    end_ms: int


def stretch(number: int, seed: int, fault: str | None = None) -> Stretch:
    """The stretch of this number; the faults come in turn unless one is asked for."""
    rng = np.random.default_rng([seed, number])
    kind = kind_of(number, fault)
    medium = str(rng.choice(kind.media))
    pair = kind.pair or bool(rng.random() < 0.7)
    wish = Wish(
        medium=medium,
        layout="inlet+outlet" if pair else "outlet",
        scenario="source_step_harder" if kind.name == "raw-water-changed" else "normal",
        litres=float(rng.uniform(3000, 8000)),
        days=float(rng.uniform(100, 160)),
    )
    it = plan(number, wish, rng)
    days = int(rng.integers(16, 21))
    fault_s = float(rng.uniform(8.0, 9.5)) * DAY_S
    used = float(rng.uniform(0.0, 0.45))
    if kind.name == "cartridge-unannounced":  # due or overdue by what it really holds
        used = float(rng.uniform(0.95, 1.1)) * (1.0 + it.capacity_error)
    world = World(plan=it, kind=kind, fault_s=fault_s, days=days, used=used)
    return _live(world, spoil(world, rng), rng)


def _live(world: World, spoilt: Spoilt, rng: np.random.Generator) -> Stretch:
    it, days = world.plan, world.days
    day_of_year = it.install.timetuple().tm_yday
    main = supply(it.waters, days + 1, day_of_year, None, spoilt.switch, rng)
    drawn = draws(it.cafe, it.install, it.utc_offset_h, days + 1, rng)
    if spoilt.dry is not None:
        wet = (drawn.start_s < spoilt.dry[0]) | (drawn.start_s > spoilt.dry[1])
        drawn = msgspec.structs.replace(
            drawn, start_s=drawn.start_s[wet], length_s=drawn.length_s[wet],
            rate_l_s=drawn.rate_l_s[wet],
        )  # fmt: skip
    if spoilt.leak is not None:
        drawn = with_leak(drawn, *spoilt.leak)
    flow = Flow(drawn)
    end_s = days * DAY_S
    rows_s = row_times(drawn, end_s, list(spoilt.outages))
    course = _course(world, main, flow, rng)
    columns = _columns(world, spoilt, main, course, flow, rows_s, rng)
    begin = round(it.install.timestamp() * 1000)
    columns["at_ms"] = begin + np.round(rows_s * 1000).astype(np.int64)
    rows = spoilt.change(columns, begin, rng)
    last = int(rows.at_ms[-1])
    return Stretch(
        fault=world.kind.name,
        line=_line(it),
        local=LocalTime(offset_s=(it.utc_offset_h * 3600,)),
        rows=rows,
        events=_events(world, course, flow, begin, last, rng),
        begin_ms=begin,
        fault_ms=begin + round(spoilt.begins_s * 1000),
        end_ms=last,
    )


def _course(world: World, main: Supply, flow: Flow, rng: np.random.Generator) -> Course:
    """Hour by hour; a new cartridge's hours are another bed's."""
    it, hours_s = world.plan, main.hours_s
    family = make_family(it, main.rows, rng)
    litres = flow.litres(hours_s)
    before = world.used * it.litres_expected
    bypass = np.full(len(hours_s), it.bypass_true)
    if world.kind.name == "bypass-moved":
        bypass[hours_s >= world.fault_s] = _knocked(it.bypass_true, rng)
    course = run_bed(it, family, main.rows, litres + before, bypass)
    if world.kind.name != "cartridge-unannounced":
        return course
    at = int(np.searchsorted(hours_s, world.fault_s))
    new = run_bed(it, family, main.rows, np.maximum(litres - litres[at], 0.0), bypass)
    outlet = np.where(np.arange(len(hours_s)) >= at, new.outlet_ec25, course.outlet_ec25)
    return course._replace(outlet_ec25=outlet)


def _knocked(bypass: float, rng: np.random.Generator) -> float:
    step = float(rng.uniform(0.15, 0.3))
    return bypass - step if bypass > step and rng.random() < 0.4 else bypass + step


def _columns(
    world: World,
    spoilt: Spoilt,
    main: Supply,
    course: Course,
    flow: Flow,
    rows_s: Floats,
    rng: np.random.Generator,
) -> dict[str, Floats | Ints]:
    it = world.plan
    place = Place(
        rows_s=rows_s,
        litres=flow.litres(rows_s),
        cold_c=main.temperature_c(rows_s),
        room_c=room_c(rows_s, it.install.hour + it.utc_offset_h, rng),
    )
    columns: dict[str, Floats | Ints] = {}
    for where, ec25 in (("outlet", course.outlet_ec25), ("inlet", course.raw.ec25_us_cm)):
        at = np.interp(rows_s, main.hours_s, ec25)
        table = at[:, None] / np.asarray(f25(np.array(TEMPERATURES_C)))[None, :]
        made = probe(where == "outlet", it.medium, rng)
        ec, temp = readings(made, place, table, list(spoilt.probes.get(where, ())), rng)
        there = where == "outlet" or it.pair
        columns[f"{where}_us_cm"] = ec if there else np.full(len(ec), np.nan)
        columns[f"{where}_temp_c"] = temp if there else np.full(len(ec), np.nan)
    columns["pulses"] = pulses(
        rows_s,
        flow,
        it.k_factor_true * spoilt.k_off,
        list(spoilt.pulse_faults),
        list(spoilt.outages),
    )
    columns["flags"] = np.zeros(len(rows_s), dtype=np.int64)
    return columns


def _line(it: Plan) -> LineSetup:
    return LineSetup(
        line_id="bar",
        medium=it.medium,
        capacity_mmol=it.rated_dh_l * DH,
        capacity_kind=KINDS[it.medium],
        bypass=it.bypass_set,
        inlet_probe=it.pair,
        pulses_per_l=it.k_factor,
        opening=_opening(it.cafe),
    )


def _opening(cafe: Habits) -> Opening:
    span = (
        round(60 * (cafe.opens_h - OPENS_BEFORE_H)),
        round(60 * (cafe.closes_h + CLOSES_AFTER_H)),
    )
    return tuple(span if factor > 0 else (0, 0) for factor in cafe.weekday)


def _events(
    world: World, course: Course, flow: Flow, begin: int, end: int, rng: np.random.Generator
) -> tuple[AnyEvent, ...]:
    """Cartridge, report, both drop tests and readings of a water meter, where somebody reads it."""
    raw, kind = course.raw, world.kind
    before = 0.0 if world.used == 0.0 else world.used * world.plan.litres_expected
    alkalinity, outlet = raw.alkalinity_meq_l, course.outlet
    found: list[AnyEvent] = [
        CartridgeFitted(at_ms=begin, event_id="c", litres_before=before),
        UtilityReport(
            at_ms=begin,
            event_id="u",
            hardness_mmol_l=float(raw.hardness_mmol_l[0]) * float(np.exp(rng.normal(0, 0.05))),
            alkalinity_meq_l=float(alkalinity[0]) * float(np.exp(rng.normal(0, 0.05))),
        ),
    ]
    for name, hour, point, hard, alk in (
        ("r", 2, Point.RAW, raw.hardness_mmol_l, alkalinity),
        ("b", 26, Point.BLENDED, outlet[0], outlet[1]),
    ):
        found.append(
            DropTest(
                at_ms=begin + hour * HOUR_MS,
                event_id=name,
                point=point,
                hardness_mmol_l=drops(float(hard[hour]) / DH, rng) * DH,
                alkalinity_meq_l=drops(float(alk[hour]) / (2 * DH), rng) * 2 * DH,
            )
        )
    if kind.hand_read:
        for day in range(0, world.days, 3):
            at = begin + round((day + 0.5) * DAY_S * 1000)
            litres = float(flow.litres(np.array([(at - begin) / 1000.0]))[0])
            found.append(MeterReading(at_ms=at, event_id=f"m{day}", litres=litres))
    if world.plan.pair and rng.random() < 0.5:
        found.append(_zero(course, begin, rng))
    return tuple(e for e in found if e.at_ms < end)


def _zero(course: Course, begin: int, rng: np.random.Generator) -> CrossZero:
    """Both probes in raw water: read alike to half a per cent."""
    back = float(course.raw.ec25_us_cm[0]) / float(f25(15.0))
    return CrossZero(
        at_ms=begin + 900_000,
        event_id="x",
        outlet_us_cm=back * (1.0 + float(rng.normal(0, 0.005))),
        outlet_temp_c=15.0,
        inlet_us_cm=back * (1.0 + float(rng.normal(0, 0.005))),
        inlet_temp_c=15.0,
    )
