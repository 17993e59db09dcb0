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
from analytics.survey.words import Reason, of_hundred, reason

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
    figures, units = case.figures, case.setting.units
    text = (
        f"A calcite bed alone reaches {units.hard(figures.hardness_mmol_l.p50)} of hardness and "
        f"{units.alk(figures.alkalinity_meq_l.p50)} of alkalinity; for more it needs carbon "
        "dioxide or dosed minerals."
    )
    return reason("half-way", text)


def _unsure(case: Case) -> Reason | None:
    if case.bypass.chance >= UNSURE or just_outside(case) or _half_way(case):
        return None
    text = (
        "With what is known the machine's water is in the window in "
        f"{of_hundred(case.bypass.chance)}: confirm by a drop test behind the filter before the "
        "bypass is left alone."
    )
    return reason("unsure", text)


def _ph(case: Case) -> Reason | None:
    band, found = case.setting.window.ph, case.figures.ph.p50
    if bool(band.holds(np.asarray(found))):
        return None
    side = f"below {band.floor:g}" if found < band.floor else f"above {band.ceiling:g}"
    text = f"pH at the tap is about {found:.1f}, {side} of the window."
    if found < band.floor:
        text += (
            f" It rises to about {case.figures.open_ph:.1f} as carbon dioxide leaves; until then "
            "it attacks copper, brass and lead."
        )
    else:
        text += f" In air it falls to about {case.figures.open_ph:.1f}."
    return reason("ph", text)


def _corrosion(case: Case) -> Reason | None:
    alkalinity, sour = case.figures.alkalinity_meq_l.p50, case.figures.ph.p50
    if alkalinity >= USUAL_LIMITS.alkalinity_meq_l and sour >= USUAL_LIMITS.ph:
        return None
    if alkalinity >= USUAL_LIMITS.alkalinity_meq_l:
        if _ph(case) is not None:
            return None
        text = f"pH {sour:.1f} at the tap is low for copper, brass and lead until the CO2 has left."
        return reason("low-ph", text)
    text = (
        f"With only {case.setting.units.alk(alkalinity)} of alkalinity this water hardly buffers "
        "acid: boilers and pipes corrode (lead, copper, nickel)."
    )
    return reason("corrosion", text)


def _chloride(case: Case, given: Given) -> Reason | None:
    setting = case.setting
    watch = setting.window.chloride_watch_mg_l
    found = case.figures.chloride_mg_l
    metal = setting.site.material
    if metal is Material.COPPER or found.p95 <= watch:
        return None
    thick = ""
    if setting.site.steams:
        many = setting.site.concentration
        thick = f" In the steam boiler it stands {many:g} times as high."
    if given.chloride_mmol_l is None:
        over = float(np.mean(case.blended.cl_mmol_l * CL > watch))
        text = (
            f"Chloride was not tested; {found.p05:.0f}-{found.p95:.0f} mg/L is plausible, above "
            f"{watch:.0f} in {of_hundred(over)}: test it before anything is bought.{thick}"
        )
        return reason("chloride-untested", text)
    if found.p50 <= watch:
        return None
    whose = "the boiler's metal" if metal is Material.UNKNOWN else metal.value
    text = f"Chloride {found.p50:.0f} mg/L is above {watch:.0f}: watch {whose} for pitting.{thick}"
    return reason("chloride", text)


def _brew_scale(case: Case) -> Reason | None:
    found, lime = case.figures.brew_si, case.figures.brew_lime_mg_l
    if found is None or lime is None or found.p50 <= case.setting.window.si_watch:
        return None
    text = (
        f"Some scale at {case.setting.site.brew_boiler.temp_c:.0f} C: saturation index "
        f"{found.p50:+.1f}, up to {lime:.0f} mg of lime a litre."
    )
    return reason("brew-scale", text)


def _steam(case: Case) -> Reason | None:
    lime = case.figures.steam_lime_mg_l
    if lime is None or lime <= MUCH_LIME_MG_L:
        return None
    many = case.setting.site.concentration
    text = (
        f"The steam boiler thickens its water ({many:g} times): up to {lime:.0f} mg of lime a "
        "litre of feed can settle. Change its water often."
    )
    if case.behind.family == "mixed":
        text += " Magnesium minerals can deposit there too."
    return reason("steam-scale", text)


def _sodium(case: Case) -> Reason | None:
    if case.behind.family != "sodium":
        return None
    found = case.figures.sodium_mg_l.p50
    added = found - case.setting.raw_figures.sodium_mg_l.p50
    text = (
        f"Adds {added:.0f} mg/L of sodium, {found:.0f} in all (drinking-water limit "
        f"{case.setting.window.sodium_mg_l.ceiling:.0f} mg/L): tell people on a low-sodium diet"
    )
    low = f", for whom {SODIUM_DIET_MG_L:.0f} mg/L is advised." if found > SODIUM_DIET_MG_L else "."
    return reason("sodium-diet", text + low)


def _tds(case: Case) -> Reason | None:
    band, found = case.setting.window.tds_mg_l, case.figures.tds_mg_l.p50
    if bool(band.holds(np.asarray(found))):
        return None
    factor = case.setting.window.tds_factor
    text = (
        f"TDS {found:.0f} mg/L (EC25 times {factor:g}, a convention) is outside "
        f"{band.floor:.0f} to {band.ceiling:.0f}."
    )
    return reason("tds", text)


def _taste(case: Case) -> Reason | None:
    if case.behind.family != "sodium" or case.setting.site.aim is not Aim.TASTE:
        return None
    if not case.setting.site.brews:
        return None
    text = "It takes calcium and magnesium, which extract: good for the machine, poor for the cup."
    return reason("taste", text)


def _effort(case: Case) -> Reason | None:
    if case.behind.family == "membrane":
        text = (
            "It sends part of the water to the drain, needs line pressure or a pump, and often a "
            "tank: ask for its recovery before it is fitted."
        )
        return reason("effort", text)
    if case.behind.family == REMINERALISE:
        text = (
            "How much a calcite bed dissolves hangs on free carbon dioxide: measure pH at the tap."
        )
        return reason("effort", text)
    return None
