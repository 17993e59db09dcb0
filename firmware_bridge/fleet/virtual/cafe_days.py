"""A virtual site's water, a day at a time: what flows, what the probes read, what people do.

Draws are of five litres at most and come in the mornings and at noon, so that a
day is a hundred rows and months are lived in seconds; everything behind the rows is the real path.
"""

from __future__ import annotations

import random
from typing import Final

import msgspec
import numpy as np

from analytics.chemistry.temperature import f25_where_defined
from analytics.exchange_medium import ExchangeMedium
from analytics.media import media
from analytics.quantities import DH_MMOL_L
from analytics.samples import (
    DAY_MS,
    HOUR_MS,
    MINUTE_MS,
    AnyEvent,
    BypassSet,
    CartridgeFitted,
    DropTest,
    Point,
    Rows,
    UtilityReport,
    rows_of,
)
from firmware_bridge.demo import counted
from firmware_bridge.fleet.virtual.plans import REGIONS, SitePlan
from firmware_bridge.virtual.column_bed import ColumnBed
from firmware_bridge.virtual.surroundings import Surroundings

PULSES_PER_L: Final = 1000.0
HOURS: Final = (8, 13)
"""Full hours about which the water of a day is drawn."""
LOOK_S: Final = 20
FLOW_L_MIN: Final = 2.6
MOST_L: Final = 4.5
DRIP_L_H: Final = 3.5
WEEK: Final = (0.85, 0.9, 0.95, 1.0, 1.15, 1.3, 0.95)


class Course(msgspec.Struct, frozen=True, kw_only=True):
    """How far the site's life is: which cartridge is in, and the litres through it."""

    cartridge: int = 0
    litres: float = 0.0


class DayOfRows(msgspec.Struct, frozen=True, kw_only=True):
    """What one day brought."""

    rows: Rows
    events: tuple[AnyEvent, ...]
    course: Course


class CafeDays:
    """The days of one site; the same plan and day give the same rows. A clock that is wrong by
    `shift_ms` dates them so."""

    def __init__(self, plan: SitePlan, shift_ms: int = 0) -> None:
        self.plan = plan
        self._shift_ms = shift_ms
        self.raw = REGIONS[plan.region]
        self._around = Surroundings(plan.number)
        self._kind_mmol_l = _kind_mmol_l(plan)
        self._beds: dict[int, ColumnBed] = {}
        chance = random.Random(f"probes {plan.number}")
        self._gain = (1.0 + chance.gauss(0.0, 0.012), 1.0 + chance.gauss(0.0, 0.012))

    def bed(self, cartridge: int) -> ColumnBed:
        """A cartridge as it really is."""
        plan = self.plan
        if cartridge not in self._beds:
            capacity = plan.capacity_mmol * plan.gives[cartridge % len(plan.gives)]
            life_l = capacity / (self._kind_mmol_l * (1.0 - plan.bypass_true))
            medium, bypass = plan.kind.medium, plan.bypass_true
            self._beds = {cartridge: ColumnBed(medium, self.raw, bypass=bypass, life_l=life_l)}
        return self._beds[cartridge]

    def first_facts(self, at_ms: int) -> tuple[AnyEvent, ...]:
        """What the installer wrote down on the first morning."""
        hardness = float(self.raw.ca_mmol_l + self.raw.mg_mmol_l)
        alkalinity = float(self.raw.alkalinity_meq_l)
        return (
            self._fitted(0, at_ms),
            BypassSet(at_ms=at_ms, event_id=self._name("bypass"), share=self.plan.bypass_set),
            UtilityReport(
                at_ms=at_ms,
                event_id=self._name("report"),
                hardness_mmol_l=0.97 * hardness,
                alkalinity_meq_l=1.02 * alkalinity,
                calcium_mmol_l=0.97 * float(self.raw.ca_mmol_l),
                magnesium_mmol_l=0.97 * float(self.raw.mg_mmol_l),
            ),
            DropTest(
                at_ms=at_ms + MINUTE_MS,
                event_id=self._name("raw"),
                line_id="bar",
                point=Point.RAW,
                hardness_mmol_l=counted(hardness, DH_MMOL_L),
                alkalinity_meq_l=counted(alkalinity, 2.0 * DH_MMOL_L),
                who="installer",
            ),
        )

    def day(self, begin_ms: int, course: Course) -> DayOfRows:
        """One day from a midnight of UTC on."""
        events: tuple[AnyEvent, ...] = ()
        limit = self.plan.changes_at[course.cartridge % len(self.plan.changes_at)]
        if course.litres >= limit * self.bed(course.cartridge).life_l:
            course = Course(cartridge=course.cartridge + 1)
            events = (self._fitted(course.cartridge, begin_ms + 6 * HOUR_MS),)
        chance = random.Random(f"day {self.plan.number} {begin_ms}")
        rows: list[tuple[int, float, float, float, float, int, int]] = []
        litres = course.litres
        for at_ms, seconds, drawn in self._draws(begin_ms, chance):
            rows += self._rows_of(at_ms, seconds, drawn, course.cartridge, litres, chance)
            litres += drawn
        drawn_at = {row[0] // HOUR_MS for row in rows}
        for hour in range(24):  # a box at rest says so
            at_ms = begin_ms + hour * HOUR_MS + 30 * MINUTE_MS
            if at_ms // HOUR_MS not in drawn_at:
                drips = self.plan.fault == "leak" and course.litres > 600.0
                pulses = round(DRIP_L_H * PULSES_PER_L) if drips else 0
                rows.append(self._row(at_ms, course.cartridge, litres, pulses, chance))
        rows.sort()
        return DayOfRows(
            rows=rows_of(rows),
            events=events,
            course=Course(cartridge=course.cartridge, litres=litres),
        )

    def _draws(self, begin_ms: int, chance: random.Random) -> list[tuple[int, int, float]]:
        """Begin, whole seconds and litres of the day's draws."""
        weekday = (begin_ms // DAY_MS + 3) % 7
        if weekday == self.plan.closed_weekday:
            return []
        litres = self.plan.litres_a_day * WEEK[weekday] * chance.lognormvariate(0.0, 0.1)
        count = max(round(litres / MOST_L), len(HOURS))
        each = litres / count
        seconds = max(round(each / FLOW_L_MIN * 60.0 / LOOK_S), 1) * LOOK_S
        found = []
        for number in range(count):
            hour = HOURS[number % len(HOURS)]
            minute = 2 + (number // len(HOURS)) * 9
            found.append((begin_ms + hour * HOUR_MS + minute * MINUTE_MS, seconds, each))
        return sorted(found)

    def _rows_of(
        self,
        at_ms: int,
        seconds: int,
        drawn: float,
        cartridge: int,
        litres: float,
        chance: random.Random,
    ) -> list[tuple[int, float, float, float, float, int, int]]:
        looks = seconds // LOOK_S
        pulses = round(drawn * PULSES_PER_L / looks)
        found = [self._row(at_ms, cartridge, litres, 0, chance)]
        for look in range(1, looks + 1):
            passed = litres + drawn * look / looks
            moment = at_ms + look * LOOK_S * 1000
            found.append(self._row(moment, cartridge, passed, pulses, chance))
        end_ms = at_ms + (seconds + 40) * 1000
        found.append(self._row(end_ms, cartridge, litres + drawn, 0, chance))
        return found

    def _row(
        self, at_ms: int, cartridge: int, litres: float, pulses: int, chance: random.Random
    ) -> tuple[int, float, float, float, float, int, int]:
        bed = self.bed(cartridge)
        temp_c = self._around.mains_c(at_ms) + chance.gauss(0.0, 0.15)
        factor = self._around.raw_factor(at_ms) / float(f25_where_defined(temp_c))
        film = 1.0
        if self.plan.fault == "fouled":
            film = max(1.0 - litres / 9000.0, 0.6)
        outlet = bed(litres).ec25_us_cm * factor * self._gain[0] * film
        inlet = bed.raw_ec25_us_cm * factor * self._gain[1]
        nothing = float("nan")
        return (
            at_ms + self._shift_ms,
            round(outlet * (1.0 + chance.gauss(0.0, 0.002)), 1),
            round(temp_c, 2),
            round(inlet * (1.0 + chance.gauss(0.0, 0.002)), 1) if self.plan.pair else nothing,
            round(temp_c, 2) if self.plan.pair else nothing,
            pulses,
            0,
        )

    def _fitted(self, cartridge: int, at_ms: int) -> CartridgeFitted:
        return CartridgeFitted(
            at_ms=at_ms,
            event_id=self._name(f"fitted-{cartridge}"),
            line_id="bar",
            cartridge_id=f"{self.plan.kind.size}-{self.plan.number:02d}-{cartridge + 1:03d}",
            litres_before=0.0,
            who="technician",
        )

    def _name(self, what: str) -> str:
        return f"{self.plan.site_id}-{what}"


def _kind_mmol_l(plan: SitePlan) -> float:
    """mmol in a litre of raw water of what the cartridge takes up."""
    medium = media()[plan.kind.medium]
    if not isinstance(medium, ExchangeMedium):
        raise ValueError(f"{plan.kind.medium} does not exchange ions")
    curves = medium.curves(REGIONS[plan.region], bypass=plan.bypass_true)
    return float(np.ravel(curves.raw_kind_meq)[0]) / 2.0
