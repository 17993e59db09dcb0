"""What kind of life it will be: medium, probes, water, setting, size, and what happens in it."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import msgspec
import numpy as np

from .cafe import Habits, habits
from .media import EXPECTED_YIELD, KIND, SITES_PER_RATED, USUAL_LEAKAGE, Recipe, recipe
from .waters import LIBRARY, RawWater, relative

MEDIA = ("hydrogen", "mixed", "sodium", "magnesium")
LAYOUTS = ("inlet+outlet", "outlet")
SCENARIOS = (
    "normal",
    "seasonal",
    "source_step_harder",
    "source_step_softer",
    "fouled_probe",
    "leak",
    "meter_stuck",
    "normal",
    "bypass_knocked",
    "overrun",
    "pulses_lost",
    "healthy",
    "source_step_harder",
    "probe_stuck",
    "holiday",
    "pulses_doubled",
    "fouled_probe",
    "leak",
)
"""Taken in turn, so that a batch holds each."""


class Plan(msgspec.Struct, frozen=True, kw_only=True):
    """All that is settled before the first litre. Litres are through the filter head."""

    name: str
    medium: str
    layout: str
    scenario: str
    install: datetime
    utc_offset_h: int
    waters: tuple[RawWater, RawWater]
    step_water: RawWater | None
    rated_dh_l: int
    capacity_error: float
    bypass_set: float
    bypass_true: float
    bypass_later: float | None
    k_factor: float
    k_factor_true: float
    litres_expected: float
    days_expected: float
    event_share: float
    cafe: Habits
    bed: Recipe

    @property
    def kind(self) -> str:
        """The hardness that the capacity counts."""
        return KIND[self.medium]

    @property
    def pair(self) -> bool:
        """True with a probe on both sides."""
        return self.layout == "inlet+outlet"

    @property
    def capacity_eq(self) -> float:
        """All exchange sites; 1 dH L is 0.35664 meq."""
        usable = self.rated_dh_l * (1 + self.capacity_error) * 0.35664e-3
        return usable * SITES_PER_RATED[self.medium]


class Wish(msgspec.Struct, frozen=True, kw_only=True):
    """What the caller fixes; `coarse` is a bed of few cells: quick, its front too broad."""

    medium: str
    layout: str
    scenario: str
    litres: float | None = None
    days: float | None = None
    coarse: bool = False


def plan(number: int, wish: Wish, rng: np.random.Generator) -> Plan:
    """A life of the wished kind, all else drawn at random."""
    first = _water(wish.medium, rng)
    second_scale = float(rng.choice([0.75, 1.3, 1.4])) if wish.scenario == "seasonal" else 1.0
    second_scale *= float(np.exp(rng.normal(0, 0.05)))
    second = relative(first, "neighbour", rng, second_scale, _apart(number))
    bypass_set = float(rng.choice(_SETTINGS[wish.medium]))
    bypass = _true_bypass(bypass_set, rng)
    litres, days = _size(wish, rng)
    kind_dh = first.kind_dh(KIND[wish.medium])
    removed_dh = kind_dh * (1 - bypass_set) * (1 - USUAL_LEAKAGE[wish.medium])
    rated = litres * removed_dh / EXPECTED_YIELD[wish.medium]
    nominal_k = float(rng.choice([450.0, 600.0, 780.0, 1000.0]))
    return Plan(
        name=_name(number, wish),
        medium=wish.medium,
        layout=wish.layout,
        scenario=wish.scenario,
        install=_install(rng),
        utc_offset_h=int(rng.integers(0, 3)),
        waters=(first, second),
        step_water=_step_water(wish, first, rng),
        rated_dh_l=max(500, round(rated / 250) * 250),
        capacity_error=float(np.clip(rng.normal(0, 0.12), -0.3, 0.3)),
        bypass_set=bypass_set,
        bypass_true=bypass,
        bypass_later=_knocked(bypass, rng) if wish.scenario == "bypass_knocked" else None,
        k_factor=nominal_k,
        k_factor_true=nominal_k * (1 + float(rng.normal(0, 0.018))),
        litres_expected=litres,
        days_expected=days,
        event_share=float(rng.uniform(0.25, 0.8)),
        cafe=_cafe(wish, litres, days, rng),
        bed=recipe(wish.medium, rng, wish.coarse),
    )


def _apart(number: int) -> float:
    """How far the ions of two waters of one main differ: wells of one field differ mostly in
    strength, so that the make-up stays while conductivity moves; every fourth main mixes fields."""
    return 0.05 if number // 8 % 4 == 3 else 0.008


_SETTINGS = {
    "hydrogen": [0.0, 0.1, 0.1, 0.2, 0.3],
    "mixed": [0.1, 0.2, 0.3, 0.4],
    "sodium": [0.0, 0.0, 0.1, 0.2],
    "magnesium": [0.0, 0.0, 0.0, 0.1],
}


def _name(number: int, wish: Wish) -> str:
    probes = "pair" if wish.layout == "inlet+outlet" else "outlet"
    return f"{wish.medium}-{probes}-{wish.scenario.replace('_', '-')}-{number:03d}"


def _water(medium: str, rng: np.random.Generator) -> RawWater:
    least = {"hydrogen": 5.5, "mixed": 5.5, "sodium": 4.5, "magnesium": 4.0}[medium]
    usable = [water for water in LIBRARY if water.kind_dh(KIND[medium]) >= least]
    chosen = usable[int(rng.integers(0, len(usable)))]
    return relative(chosen, chosen.name, rng, float(np.exp(rng.normal(0, 0.08))))


def _step_water(wish: Wish, first: RawWater, rng: np.random.Generator) -> RawWater | None:
    """Another library water, plainly harder or plainly softer in the kind that counts."""
    if not wish.scenario.startswith("source_step"):
        return None
    kind = KIND[wish.medium]
    low, high = (1.25, 3.0) if wish.scenario.endswith("harder") else (0.35, 0.8)
    ratios = {water.name: water.kind_dh(kind) / first.kind_dh(kind) for water in LIBRARY}
    fitting = [water for water in LIBRARY if low <= ratios[water.name] <= high]
    if not fitting:
        scale = 1.5 if low > 1 else 0.65
        return relative(first, "other_field", rng, scale)
    return fitting[int(rng.integers(0, len(fitting)))]


def _true_bypass(setting: float, rng: np.random.Generator) -> float:
    if setting == 0:
        return 0.0
    return float(np.clip(setting + rng.normal(0, 0.04), 0.01, 0.6))


def _knocked(bypass: float, rng: np.random.Generator) -> float:
    step = float(rng.uniform(0.12, 0.3))
    return bypass - step if bypass > step and rng.random() < 0.3 else bypass + step


def _size(wish: Wish, rng: np.random.Generator) -> tuple[float, float]:
    """Expected litres (900-9000) and days (20-220), 15-150 litres a day."""
    litres = wish.litres or float(np.exp(rng.uniform(np.log(950), np.log(8200))))
    a_day = float(np.exp(rng.uniform(np.log(18), np.log(95))))
    days = wish.days or float(np.clip(litres / a_day, max(20, litres / 140), litres / 16))
    if wish.scenario == "source_step_softer" and wish.litres is None:
        litres, days = litres * 0.6, max(days * 0.6, 18)  # softer water makes it last
    if wish.scenario == "healthy" and wish.days is None:
        days = max(days, 45.0)
    return litres, min(days, 170.0)


def _install(rng: np.random.Generator) -> datetime:
    start = datetime(2023, 1, 2, 0, tzinfo=UTC) + timedelta(days=int(rng.integers(0, 1000)))
    return start + timedelta(hours=int(rng.integers(7, 11)))


def _cafe(wish: Wish, litres: float, days: float, rng: np.random.Generator) -> Habits:
    drawn = habits(litres / days, rng)
    if wish.scenario != "holiday":
        return drawn
    first = int(days * rng.uniform(0.2, 0.7))
    return msgspec.structs.replace(drawn, shut=((first, first + int(rng.integers(6, 11))),))
