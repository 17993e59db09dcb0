"""What the survey says this water becomes, at this bypass; asked once, for it takes seconds."""

from __future__ import annotations

from functools import lru_cache

from analytics.errors import ModelError
from analytics.setup import LineSetup
from analytics.survey.given import Given
from analytics.survey.plan import Survey, survey, turned
from analytics.survey.site import Boilers, Site
from analytics.survey.window import DEFAULT, STEAM_ONLY, WINDOWS, Window
from dashboards.commissioning.counting import given_of
from dashboards.commissioning.progress import Progress, Promise

KEPT = 6
NUDGE = 0.05
"""Heads have marks; a press goes to the next twentieth."""
MOST_SHARE = 0.9


def proposal(page: Progress, line: LineSetup) -> Survey | None:
    """The survey with the family looked at first, at its bypass; None before hardness or
    alkalinity is known. Raises ModelError for tests that cannot be."""
    given = given_of(page)
    if given.hardness_mmol_l is None or given.alkalinity_meq_l is None:
        return None
    site = Site(
        boilers=page.machine.boilers,
        material=page.machine.material,
        aim=page.machine.aim,
        low_sodium=page.machine.low_sodium,
        litres_a_day=page.machine.litres_a_day or line.litres_a_day,
        capacity_mmol=line.capacity_mmol,
        capacity_relative_sd=line.capacity_relative_sd,
    )
    found = _asked(given, site, window_of(line, site.boilers))
    family = page.family or line.medium
    if family not in {each.family for each in found.candidates}:
        return found
    return _turned(given, site, window_of(line, site.boilers), family, page.share)


def window_of(line: LineSetup, boilers: Boilers) -> Window:
    """The profile that the site file names, else the usual one for the machine."""
    usual = STEAM_ONLY if boilers is Boilers.STEAM else DEFAULT
    return WINDOWS.get(line.limits.profile, usual)


@lru_cache(maxsize=KEPT)
def _asked(given: Given, site: Site, window: Window) -> Survey:
    return survey(given, site, window)


@lru_cache(maxsize=KEPT)
def _turned(given: Given, site: Site, window: Window, family: str, share: float | None) -> Survey:
    return turned(_asked(given, site, window), family, share)


def nudged(share: float, up: bool) -> float:
    """The next twentieth above or below."""
    steps = round(share / NUDGE, 6)
    whole = int(steps) + 1 if up else (int(steps) if steps > int(steps) else int(steps) - 1)
    return min(max(round(whole * NUDGE, 2), 0.0), MOST_SHARE)


def promised(found: Survey) -> Promise:
    """What is taken: figures and reasons of the family that comes first. Raises ModelError where
    nothing can be said of its water."""
    best = found.best
    water = best.blended
    if water is None:
        raise ModelError("this medium does nothing for this water", "Look at another one.")
    size = best.size
    return Promise(
        family=best.family,
        share=best.bypass.share if best.bypass else 0.0,
        hardness_mmol_l=water.hardness_mmol_l,
        alkalinity_meq_l=water.alkalinity_meq_l,
        calcium_mmol_l=water.calcium_mmol_l,
        ec25_us_cm=water.ec25_us_cm,
        ph=water.ph,
        chloride_mg_l=water.chloride_mg_l,
        brew_si=water.brew_si,
        in_window=best.chance_in_window,
        litres=size.litres if size else None,
        against=best.against,
        minded=best.care,
    )
