"""What to mind with a family that fits: metal, scale, salt, taste, and what was not tested."""

from __future__ import annotations

from typing import Final

import numpy as np

from analytics.chemistry.masses import CL
from analytics.chemistry.treatment import USUAL_LIMITS
from analytics.medium import SODIUM_DIET_MG_L
from analytics.survey.behind import REMINERALISE
from analytics.survey.case import Case
from analytics.survey.given import Given
from analytics.survey.rules import just_outside, short_of_minerals
from analytics.survey.site import Aim, Material
from analytics.survey.words import Reason, reason

UNSURE: Final = 0.75
"""Below this chance of hitting the window the doubt is worth a sentence."""
MUCH_LIME_MG_L: Final = 40.0
"""Lime a litre of feed can leave in a steam boiler before it is worth a sentence."""


def cares(case: Case, given: Given) -> tuple[Reason, ...]:
    """What to mind with this family and this water."""
    found = (
        just_outside(case),
        _half_way(case),
        _unsure(case),
        _ph(case),
        _corrosion(case),
        _chloride(case, given),
        _brew_scale(case),
        _steam(case),
        _sodium(case),
        _tds(case),
        _taste(case),
        _effort(case),
    )
    return tuple(each for each in found if each is not None)


def _half_way(case: Case) -> Reason | None:
    """Calcite alone often stops short of the window: it still goes the right way."""
    if case.bypass.chance >= UNSURE or not short_of_minerals(case):
        return None
    figures = case.figures
    return reason(
        "half-way",
        hardness_mmol_l=figures.hardness_mmol_l.p50,
        alkalinity_meq_l=figures.alkalinity_meq_l.p50,
    )


def _unsure(case: Case) -> Reason | None:
    if case.bypass.chance >= UNSURE or just_outside(case) or _half_way(case):
        return None
    return reason("unsure", found_chance=case.bypass.chance)


def _ph(case: Case) -> Reason | None:
    band, found = case.setting.window.ph, case.figures.ph.p50
    if bool(band.holds(np.asarray(found))):
        return None
    low = found < band.floor
    limit = band.floor if low else band.ceiling
    side = "below" if low else "above"
    return reason("ph", side, found_ph=found, limit_ph=limit, open_ph=case.figures.open_ph)


def _corrosion(case: Case) -> Reason | None:
    alkalinity, sour = case.figures.alkalinity_meq_l.p50, case.figures.ph.p50
    if alkalinity >= USUAL_LIMITS.alkalinity_meq_l and sour >= USUAL_LIMITS.ph:
        return None
    if alkalinity >= USUAL_LIMITS.alkalinity_meq_l:
        if _ph(case) is not None:
            return None
        return reason("low-ph", found_ph=sour)
    return reason("corrosion", found_meq_l=alkalinity)


def _chloride(case: Case, given: Given) -> Reason | None:
    setting = case.setting
    watch = setting.window.chloride_watch_mg_l
    found = case.figures.chloride_mg_l
    metal = setting.site.material
    if metal is Material.COPPER or found.p95 <= watch:
        return None
    thick: tuple[Reason, ...] = ()
    if setting.site.steams:
        thick = (reason("chloride-thickens", many_times=setting.site.concentration),)
    if given.chloride_mmol_l is None:
        over = float(np.mean(case.blended.cl_mmol_l * CL > watch))
        return reason(
            "chloride-untested",
            parts=thick,
            low_mg_l=found.p05,
            high_mg_l=found.p95,
            limit_mg_l=watch,
            over_chance=over,
        )
    if found.p50 <= watch:
        return None
    return reason("chloride", metal.value, parts=thick, found_mg_l=found.p50, limit_mg_l=watch)


def _brew_scale(case: Case) -> Reason | None:
    found, lime = case.figures.brew_si, case.figures.brew_lime_mg_l
    if found is None or lime is None or found.p50 <= case.setting.window.si_watch:
        return None
    boiler = case.setting.site.brew_boiler
    return reason("brew-scale", boiler_c=boiler.temp_c, found_si=found.p50, lime_mg_l=lime)


def _steam(case: Case) -> Reason | None:
    lime = case.figures.steam_lime_mg_l
    if lime is None or lime <= MUCH_LIME_MG_L:
        return None
    too = (reason("steam-magnesium"),) if case.behind.family == "mixed" else ()
    many = case.setting.site.concentration
    return reason("steam-scale", parts=too, many_times=many, lime_mg_l=lime)


def _sodium(case: Case) -> Reason | None:
    if case.behind.family != "sodium":
        return None
    found = case.figures.sodium_mg_l.p50
    added = found - case.setting.raw_figures.sodium_mg_l.p50
    return reason(
        "sodium-diet",
        "over" if found > SODIUM_DIET_MG_L else "under",
        added_mg_l=added,
        found_mg_l=found,
        limit_mg_l=case.setting.window.sodium_mg_l.ceiling,
        diet_mg_l=SODIUM_DIET_MG_L,
    )


def _tds(case: Case) -> Reason | None:
    band, found = case.setting.window.tds_mg_l, case.figures.tds_mg_l.p50
    if bool(band.holds(np.asarray(found))):
        return None
    return reason(
        "tds",
        found_mg_l=found,
        factor_times=case.setting.window.tds_factor,
        low_mg_l=band.floor,
        high_mg_l=band.ceiling,
    )


def _taste(case: Case) -> Reason | None:
    if case.behind.family != "sodium" or case.setting.site.aim is not Aim.TASTE:
        return None
    if not case.setting.site.brews:
        return None
    return reason("taste")


def _effort(case: Case) -> Reason | None:
    if case.behind.family == "membrane":
        return reason("effort", "membrane")
    if case.behind.family == REMINERALISE:
        return reason("effort", "calcite")
    return None
