"""Raw waters as an installer's kit gives them, for tests of the survey."""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache

from analytics.medium import Caution
from analytics.quantities import DH_MMOL_L
from analytics.survey.given import Given, drop_reading, value_reading
from analytics.survey.judge import Candidate
from analytics.survey.plan import Survey, survey
from analytics.survey.site import Site
from analytics.survey.words import Reason

ALKALINITY_DROP = 2 * DH_MMOL_L


def drops(hardness: float | None = None, alkalinity: float | None = None, **values: float) -> Given:
    """Drops of 1 dH, and further values by field in base units."""
    known = {name: value_reading(name, value) for name, value in values.items()}
    if hardness is not None:
        known["hardness_mmol_l"] = drop_reading(hardness, DH_MMOL_L, f"{hardness} drops")
    if alkalinity is not None:
        known["alkalinity_meq_l"] = drop_reading(alkalinity, ALKALINITY_DROP, f"{alkalinity} drops")
    return Given(**known)


def values(**amounts: float) -> Given:
    """Values by field in base units."""
    return Given(**{name: value_reading(name, value) for name, value in amounts.items()})


MOORLAND = drops(2, 1, ec25_us_cm=60.0, ph=6.8)
IN_WINDOW = drops(6, 4, ec25_us_cm=200.0, chloride_mmol_l=0.3)
LIMESTONE = drops(16, 13, ec25_us_cm=560.0, chloride_mmol_l=0.5)
CHALK = drops(23, 18, ec25_us_cm=760.0, chloride_mmol_l=0.6)
GYPSUM = drops(29, 10, ec25_us_cm=1050.0, chloride_mmol_l=0.7)
SODA = drops(9, 13, ec25_us_cm=650.0, chloride_mmol_l=0.6)
COASTAL = drops(14, 9, ec25_us_cm=880.0, chloride_mmol_l=4.3)
CALCIUM_HEAVY = drops(11, 4, ec25_us_cm=420.0, calcium_mmol_l=1.7, chloride_mmol_l=0.5)
MAGNESIUM_RICH = drops(12, 10, ec25_us_cm=450.0, calcium_mmol_l=1.0, chloride_mmol_l=0.5)
HARD_LITTLE_ALKALINITY = drops(20, 4, ec25_us_cm=800.0, chloride_mmol_l=0.5)
TEN = {
    "moorland": MOORLAND,
    "in the window": IN_WINDOW,
    "limestone": LIMESTONE,
    "chalk": CHALK,
    "gypsum": GYPSUM,
    "soda": SODA,
    "coastal": COASTAL,
    "calcium-heavy": CALCIUM_HEAVY,
    "magnesium-rich": MAGNESIUM_RICH,
    "hard, little alkalinity": HARD_LITTLE_ALKALINITY,
}


@cache
def plan_of(name: str) -> Survey:
    """The survey of one of the ten for 85 litres a day, made once a run."""
    return survey(TEN[name], Site(litres_a_day=85.0))


def families(found: Survey) -> list[str]:
    """Families that fit, the best first."""
    return [each.family for each in found.candidates if each.fits]


def candidate(found: Survey, family: str) -> Candidate:
    """One family of a survey."""
    return next(each for each in found.candidates if each.family == family)


def codes(reasons: Iterable[Reason | Caution]) -> set[str]:
    """Their codes."""
    return {each.code for each in reasons}
