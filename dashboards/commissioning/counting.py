"""Drops: counts, when they agree, and what they say."""

from __future__ import annotations

from analytics.chemistry.masses import CL
from analytics.survey.given import Given, Reading, drop_reading, value_reading
from dashboards.commissioning.progress import MOST_COUNTS, MOST_DROPS, Progress, Tally

FIELDS = {
    "hardness": "hardness_mmol_l",
    "alkalinity": "alkalinity_meq_l",
    "calcium": "calcium_mmol_l",
}
STEP_FIELDS = {
    "hardness": "hardness_step_mmol_l",
    "alkalinity": "alkalinity_step_meq_l",
    "calcium": "calcium_step_mmol_l",
}


def dropped(tally: Tally) -> Tally:
    """One drop more."""
    return Tally(counts=tally.counts, drops=min(tally.drops + 1, MOST_DROPS))


def took_back(tally: Tally) -> Tally:
    """One drop less."""
    return Tally(counts=tally.counts, drops=max(tally.drops - 1, 0))


def turned(tally: Tally) -> Tally:
    """The colour turned with the last drop: the count is whole."""
    if not tally.drops or finished(tally):
        return tally
    return Tally(counts=(*tally.counts, tally.drops))


def agreed(tally: Tally) -> float | None:
    """Drops that the counts come to: two that differ by one drop at most, else the middle of three;
    None: not yet."""
    counts = tally.counts
    if len(counts) >= MOST_COUNTS:
        return float(sorted(counts)[len(counts) // 2])
    if len(counts) == 2 and abs(counts[0] - counts[1]) <= 1:
        return sum(counts) / 2
    return None


def finished(tally: Tally) -> bool:
    """Whether nothing is left to count."""
    return tally.value is not None or agreed(tally) is not None


def drop_size(kind: str, page: Progress) -> float:
    """What a drop stands for: mmol/L, of alkalinity meq/L."""
    return page.drop_mmol_l * (2.0 if kind == "alkalinity" else 1.0)


def reading(kind: str, tally: Tally, page: Progress) -> Reading | None:
    """What a titration says; None: not yet."""
    if tally.value is not None:
        return value_reading(FIELDS[kind], tally.value)
    drops = agreed(tally)
    return None if drops is None else drop_reading(drops, drop_size(kind, page))


def given_of(page: Progress) -> Given:
    """What is known of raw water so far."""
    found = {
        FIELDS[kind]: reading(kind, page.tally("raw", kind), page)
        for kind in ("hardness", "alkalinity", "calcium")
    }
    if page.ec25_us_cm is not None:
        found["ec25_us_cm"] = value_reading("ec25_us_cm", page.ec25_us_cm)
    if page.chloride_mg_l is not None:
        found["chloride_mmol_l"] = value_reading("chloride_mmol_l", page.chloride_mg_l / CL)
    if page.ph is not None:
        found["ph"] = value_reading("ph", page.ph)
    return Given(**found)
