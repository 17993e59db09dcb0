"""One life from plan to files: main, cafe, column, meters, installer, truth."""

from __future__ import annotations

from pathlib import Path
from typing import NamedTuple

import numpy as np

from .cafe import Draws, Flow, draws, with_leak
from .column import Column, UnfitLifeError, column, run_column
from .conductivity import TEMPERATURES_C, at_temperature, conductivity_table
from .engine import cached
from .happenings import Happenings, leading, recorded, stamp
from .installer import Water, drop_tests, site, utility_report
from .logger import pulses, row_times
from .plan import LAYOUTS, MEDIA, SCENARIOS, Plan, Wish, plan
from .probes import Place, Probe, probe, readings, room_c
from .supply import Supply, supply
from .truth import End, Hours, bed_litres, bypass_at, end_of_capacity, hours, truth
from .writer import Recording, write_life

_TRIES = 6
LONGEST_DAYS = 260
MOST_LITRES = 10500


class Course(NamedTuple):
    """The water's own story, before any meter sees it."""

    plan: Plan
    happenings: Happenings
    main: Supply
    drawn: Draws
    flow: Flow
    bed: Column
    hours: Hours
    end: End


def make_life(folder: Path, cache: Path, number: int, seed: int, wish: Wish) -> Course:
    """Build one life and write its three files under `folder`; the same arguments, the same bytes.

    A drawn life whose end cannot be reached is drawn again; UnfitLifeError after six of them.
    """
    for attempt in range(_TRIES):
        streams = np.random.SeedSequence([seed, number, attempt]).spawn(4)
        rngs = [np.random.default_rng(stream) for stream in streams]
        drawn_plan = plan(number, wish, rngs[0])
        try:
            course = run_course(drawn_plan, cache, rngs[1])
        except UnfitLifeError as trouble:
            last = trouble
            continue
        return _record(course, folder, cache, rngs[2], rngs[3])
    raise UnfitLifeError(f"life {number}: no usable draw in {_TRIES}: {last}")


def run_course(it: Plan, cache: Path, rng: np.random.Generator) -> Course:
    """The water's story from the installation to well past the end of capacity."""
    when_s = it.event_share * it.days_expected * 86400
    happenings = leading(it, when_s, rng)
    days = int(min(it.days_expected * 2.4 + 25, 420))
    main = supply(
        it.waters,
        days,
        it.install.timetuple().tm_yday,
        it.days_expected if it.scenario == "seasonal" else None,
        happenings.switch,
        rng,
    )
    drawn = draws(it.cafe, it.install, it.utc_offset_h, days, rng)
    if (leak := happenings.leak) is not None:
        drawn = with_leak(drawn, leak.start_s, leak.end_s, leak.litres_an_hour)
    flow = Flow(drawn)
    bed = _bed(it, happenings, main, flow, cache)
    course = hours(it, happenings, flow, main, bed)
    end = end_of_capacity(course, it.litres_expected)
    if end.seconds > LONGEST_DAYS * 86400 or end.litres > MOST_LITRES:
        raise UnfitLifeError(f"{end.litres:.0f} L in {end.seconds / 86400:.0f} days")
    return Course(it, happenings, main, drawn, flow, bed, course, end)


def _bed(it: Plan, happenings: Happenings, main: Supply, flow: Flow, cache: Path) -> Column:
    """The column fed as this life feeds it, from the cache where it ran before."""
    through = bed_litres(it, happenings, flow, main.hours_s)

    def raw_at(litres: float) -> np.ndarray:
        return main.at(float(np.interp(litres, through, main.hours_s)))

    expected = it.litres_expected * (1 - it.bypass_set)
    beyond = 1.75 if it.scenario == "overrun" else 1.3
    fed = [[round(float(v), 6) for v in raw_at(x)] for x in np.linspace(0, 2 * expected, 400)]
    key = [it.capacity_eq, expected, it.kind, beyond, fed]
    return column(
        it.bed,
        key,
        cache,
        lambda: run_column(it.bed, it.capacity_eq, expected, raw_at, it.kind, beyond),
    )


def _record(
    course: Course,
    folder: Path,
    cache: Path,
    rng: np.random.Generator,
    tests_rng: np.random.Generator,
) -> Course:
    """See the course through meters and write it down; the course with all its faults."""
    it = course.plan
    end_s = _record_end_s(course, rng)
    when_s = it.event_share * course.end.seconds
    happenings = recorded(it, course.happenings, when_s, end_s, rng)
    outlet, inlet = probe(True, it.medium, rng), probe(False, it.medium, rng)
    rows_s = row_times(course.drawn, end_s, list(happenings.outages))
    tables = _Tables(course, cache)
    litres = course.flow.litres(rows_s)
    local_h = it.install.hour + it.utc_offset_h
    place = Place(
        rows_s=rows_s,
        litres=litres,
        cold_c=course.main.temperature_c(rows_s),
        room_c=room_c(rows_s, local_h, rng),
    )
    seen_out = readings(outlet, place, tables.blended(rows_s), list(happenings.outlet), rng)
    seen_in = None
    if it.pair:
        seen_in = readings(inlet, place, tables.raw(rows_s), list(happenings.inlet), rng)
    counted = pulses(
        rows_s,
        course.flow,
        it.k_factor_true,
        list(happenings.pulse_faults),
        list(happenings.outages),
    )
    tests = drop_tests(it, _sampler(course), end_s, tests_rng)
    reading = _raw_water_reading(course, tables, outlet, inlet, tests_rng)
    write_life(
        folder / it.name,
        it.install,
        Recording(rows_s, seen_out, seen_in, counted),
        site(it, tests, utility_report(it, tests_rng), reading),
        truth(it, happenings, course.hours, course.end, end_s, outlet.gain, course.flow),
    )
    return course._replace(happenings=happenings)


def _record_end_s(course: Course, rng: np.random.Generator) -> float:
    """Records end a little past the end of capacity; healthy ones early, overrun ones late."""
    low, high = {"healthy": (0.3, 0.6), "overrun": (1.35, 1.6)}.get(
        course.plan.scenario, (1.06, 1.14)
    )
    litres = min(course.end.litres * rng.uniform(low, high), float(course.hours.litres[-1]))
    reached = float(course.flow.when(np.array([litres]))[0])
    return min(reached + rng.uniform(0, 12) * 3600, float(course.hours.seconds[-1]))


class _Tables:
    """Conductivity at four temperatures of raw and blended water along the course."""

    def __init__(self, course: Course, cache: Path) -> None:
        self._course = course
        self._cache = cache
        self._bed = course.bed
        self._knots = np.arange(0, len(self._bed.litres))

    def raw(self, rows_s: np.ndarray) -> np.ndarray:
        """The raw water, row by row."""
        return self._spread(rows_s, self._table(1.0))

    def blended(self, rows_s: np.ndarray) -> np.ndarray:
        """What leaves the head, row by row, with the bypass of that moment."""
        it, happenings = self._course.plan, self._course.happenings
        share = bypass_at(it, happenings, rows_s)
        out = np.empty((len(rows_s), len(TEMPERATURES_C)))
        for value in np.unique(share):
            here = share == value
            out[here] = self._spread(rows_s[here], self._table(float(value)))
        return out

    def _table(self, bypass: float) -> np.ndarray:
        rows = bypass * self._bed.raw[self._knots] + (1 - bypass) * self._bed.treated[self._knots]
        key = ["conductivity-1", rows.round(7).tolist()]
        return cached(self._cache, key, lambda: {"table": conductivity_table(rows)})["table"]

    def _spread(self, rows_s: np.ndarray, table: np.ndarray) -> np.ndarray:
        course = self._course
        passed = bed_litres(course.plan, course.happenings, course.flow, rows_s)
        knots = self._bed.litres[self._knots]
        columns = [np.interp(passed, knots, table[:, i]) for i in range(table.shape[1])]
        return np.stack(columns, axis=1)


def _sampler(course: Course) -> Water:
    """Composition of raw and blended water at a moment, for the drop tests."""

    def water(point: str, seconds: float) -> np.ndarray:
        moment = np.array([seconds])
        passed = bed_litres(course.plan, course.happenings, course.flow, moment)
        supplied = course.main.at(seconds)
        raw = np.concatenate([supplied[:6], [0.0], supplied[6:7]])
        if point == "raw":
            return raw
        share = float(bypass_at(course.plan, course.happenings, moment)[0])
        return np.asarray(share * raw + (1 - share) * course.bed.treated_at(passed)[0])

    return water


def _raw_water_reading(
    course: Course, tables: _Tables, outlet: Probe, inlet: Probe, rng: np.random.Generator
) -> dict[str, object] | None:
    """Both probes in raw water a quarter of an hour after the installation; often forgotten."""
    if rng.random() < 0.25:
        return None
    moment = np.array([900.0])
    table = tables.raw(moment)
    told: dict[str, object] = {"time": stamp(course.plan.install, 900)}
    warm = float(course.main.temperature_c(moment)[0] + rng.uniform(0.3, 3))
    for where, it in (("outlet", outlet), ("inlet", inlet))[: 2 if course.plan.pair else 1]:
        true = float(at_temperature(table, np.array([warm]))[0])
        seen = true * it.gain * (1 + float(rng.normal(0, it.noise / 2)))
        told[f"{where}_conductivity_uS_cm"] = round(seen, 1)
        told[f"{where}_temperature_C"] = round(warm + it.temperature_offset_c, 2)
    return told


def wished(number: int, litres: float | None = None, days: float | None = None) -> Wish:
    """The life of that number in a batch: media and layouts in turn, scenarios one by one."""
    combination = number % (len(MEDIA) * len(LAYOUTS))
    return Wish(
        medium=MEDIA[combination // 2],
        layout=LAYOUTS[combination % 2],
        scenario=SCENARIOS[(number // 8 * 2 + combination * 7) % len(SCENARIOS)],
        litres=litres,
        days=days,
    )
