"""Why a family fits a water or does not: one small rule a reason.

`before` looks at raw water alone and spares the rest where a family is out of question; `after`
looks at what the machine would get. A family that has no rules of its own is judged by what comes
out. The rules are those of the trade's practice; figures without a source beside them are common
practice.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from analytics.medium import SODIUM_LIMIT_MG_L
from analytics.survey.behind import REMINERALISE, puts_minerals_back
from analytics.survey.case import Case, Setting
from analytics.survey.site import Aim
from analytics.survey.words import Reason, reason

NEAR: Final = 1.15
"""So much over an edge of the window still counts as near it."""
CALCIUM_HEAVY: Final = 0.65
"""Share of hardness that must be calcium for magnesium exchange to do anything."""
EXCHANGERS: Final = ("hydrogen", "mixed", "magnesium", "sodium")
LIKELY: Final = 0.5
POSSIBLE: Final = 0.25
PERMANENT: Final = 1.5
"""Times the window's upper hardness from which mostly permanent hardness asks for a membrane."""
MOSTLY: Final = 0.5
MOST_ROUND: Final = 0.85
"""More than this round the bed is more than heads are built for."""


def before(family: str, setting: Setting) -> tuple[Reason, ...]:
    """Reasons in the raw water against a family; empty if there are none."""
    found = [rule(setting) for rule in _BEFORE.get(family, ())]
    if family in (*EXCHANGERS, "carbon", REMINERALISE):
        found.append(_chloride(setting))
    return tuple(each for each in found if each is not None)


def after(case: Case) -> tuple[Reason, ...]:
    """Reasons in the blended water against a family."""
    missed = _out_of_window(case, NEAR)
    if short_of_minerals(case):
        missed = [each for each in missed if not each.code.endswith("-low")]
    found = [*missed, _hardly_treats(case), _sodium_limit(case), _scale(case)]
    return tuple(each for each in found if each is not None)


# --- before ---------------------------------------------------------------------------------------


def _in_window(setting: Setting) -> bool:
    """Whether raw water may be left as it is: likely in the window, or its middle is and tests
    leave the rest open."""
    inside = setting.raw_chance >= LIKELY
    if setting.raw_chance >= POSSIBLE and not outside(
        setting, _hardness(setting), _alkalinity(setting)
    ):
        inside = True
    return inside and setting.brew_si <= setting.window.si_stop


def _hardness(setting: Setting) -> float:
    return setting.raw_figures.hardness_mmol_l.p50


def _alkalinity(setting: Setting) -> float:
    return setting.raw_figures.alkalinity_meq_l.p50


def outside(setting: Setting, hardness: float, alkalinity: float) -> tuple[Reason, ...]:
    """How a point of the plane lies outside the window."""
    window = setting.window
    said = []
    for name, value, band, unit in (
        ("hardness", hardness, window.hardness_mmol_l, "mmol_l"),
        ("alkalinity", alkalinity, window.alkalinity_meq_l, "meq_l"),
    ):
        if value > band.ceiling:
            said.append(_against(name, "above", value, band.ceiling, unit))
        elif value < band.floor:
            said.append(_against(name, "below", value, band.floor, unit))
    return tuple(said)


def _against(code: str, variant: str, found: float, limit: float, unit: str) -> Reason:
    """A figure beside its limit, both in this unit."""
    return reason(code, variant, {f"found_{unit}": found, f"limit_{unit}": limit})


def _carbon(setting: Setting) -> Reason | None:
    if _in_window(setting):
        return None
    said = outside(setting, _hardness(setting), _alkalinity(setting))
    if said:
        return reason("changes-nothing", "outside", parts=said)
    if setting.brew_si > setting.window.si_stop:
        return _scales("carbon", setting.brew_si, setting)
    return reason("changes-nothing", "seldom", found_chance=setting.raw_chance)


def _not_needed(setting: Setting) -> Reason | None:
    if not _in_window(setting) or setting.brew_si > setting.window.si_watch:
        return None
    if setting.chloride_over >= LIKELY:
        return None
    return reason("not-needed", "carbon")


def _in_window_already(setting: Setting) -> Reason | None:
    if not _in_window(setting) or setting.chloride_over >= LIKELY:
        return None
    return reason("not-needed", "membrane")


def _no_alkalinity(setting: Setting) -> Reason | None:
    """For what works on alkalinity: nothing to take where it is not too high."""
    found, band = _alkalinity(setting), setting.window.alkalinity_meq_l
    if found > band.ceiling:
        return None
    where = "below" if found < band.floor else "within"
    return reason(
        "alkalinity-not-high",
        where,
        found_meq_l=found,
        low_meq_l=band.floor,
        high_meq_l=band.ceiling,
    )


def _permanent(setting: Setting) -> Reason | None:
    """What stays when alkalinity is brought down to the lower edge of the window."""
    window = setting.window
    taken = max(_alkalinity(setting) - window.alkalinity_meq_l.floor, 0.0) / 2
    left, limit = _hardness(setting) - taken, window.hardness_mmol_l.ceiling
    if left <= limit * NEAR:
        return None
    return reason("permanent-stays", found_mmol_l=left, limit_mmol_l=limit)


def _floor(setting: Setting) -> Reason | None:
    left = _alkalinity(setting) - 2 * _hardness(setting)
    limit = setting.window.alkalinity_meq_l.ceiling
    if left <= limit * NEAR:
        return None
    return reason("floor", found_meq_l=left, limit_meq_l=limit)


def _no_bypass_serves(setting: Setting) -> Reason | None:
    """Where taking alkalinity down to the window's top already makes the water too soft."""
    window = setting.window
    taken = max(_alkalinity(setting) - window.alkalinity_meq_l.ceiling, 0.0) / 2
    left, least = _hardness(setting) - taken, window.hardness_mmol_l.floor
    if left * NEAR >= least:
        return None
    return reason("too-soft-behind", found_mmol_l=max(left, 0.0), limit_mmol_l=least)


def _hardness_not_near(setting: Setting) -> Reason | None:
    found, band = _hardness(setting), setting.window.hardness_mmol_l
    if found > band.ceiling * NEAR:
        return reason("hardness-stays", found_mmol_l=found, limit_mmol_l=band.ceiling)
    if found * NEAR < band.floor:
        return reason("already-soft", "swap", found_mmol_l=found)
    return None


def _alkalinity_stays(setting: Setting) -> Reason | None:
    found, limit = _alkalinity(setting), setting.window.alkalinity_meq_l.ceiling
    if found <= limit * NEAR:
        return None
    return reason("alkalinity-stays", found_meq_l=found, limit_meq_l=limit)


def _little_calcium(setting: Setting) -> Reason | None:
    share = setting.raw_figures.calcium_mmol_l.p50 / max(_hardness(setting), 1e-9)
    if share >= CALCIUM_HEAVY:
        return None
    return reason("magnesium-rich", found_share=share)


def _already_soft(setting: Setting) -> Reason | None:
    found, band = _hardness(setting), setting.window.hardness_mmol_l
    if found > max(band.floor, 0.02):
        return None
    return reason("already-soft", "take", found_mmol_l=found)


def _permanent_for_taste(setting: Setting) -> Reason | None:
    """Gypsum water: softening would only trade one salt for another in the cup."""
    limit = PERMANENT * setting.window.hardness_mmol_l.ceiling
    found = _hardness(setting)
    if setting.site.aim is not Aim.TASTE or found <= limit:
        return None
    if _alkalinity(setting) / 2 >= MOSTLY * found:
        return None
    return reason("permanent-to-sodium", found_mmol_l=found)


def _low_sodium(setting: Setting) -> Reason | None:
    if not setting.site.low_sodium:
        return None
    return reason("low-sodium")


def _not_thin(setting: Setting) -> Reason | None:
    window = setting.window
    hardness, alkalinity = _hardness(setting), _alkalinity(setting)
    if alkalinity > window.alkalinity_meq_l.ceiling or hardness > window.hardness_mmol_l.ceiling:
        return reason("not-thin", "too-much")
    if hardness >= window.hardness_mmol_l.floor and alkalinity >= window.alkalinity_meq_l.floor:
        return reason("not-thin", "enough")
    return None


def _only_thin(setting: Setting) -> Reason | None:
    """A membrane takes out what a soft, thin water hardly has."""
    window = setting.window
    thin = _hardness(setting) <= window.hardness_mmol_l.ceiling
    thin = thin and _alkalinity(setting) < window.alkalinity_meq_l.floor
    if not thin or setting.chloride_over >= LIKELY or setting.brew_si > window.si_watch:
        return None
    if _hardness(setting) > window.hardness_mmol_l.floor * 2:
        return None
    return reason("already-thin")


def _chloride(setting: Setting) -> Reason | None:
    if setting.chloride_over < LIKELY:
        return None
    found, limit = setting.raw_figures.chloride_mg_l.p50, setting.window.chloride_stop_mg_l
    return reason("chloride", "stays", found_mg_l=found, limit_mg_l=limit)


def _films(setting: Setting) -> Reason | None:
    return reason("films")


_Rule = Callable[[Setting], Reason | None]
_BEFORE: Final[dict[str, tuple[_Rule, ...]]] = {
    "carbon": (_carbon,),
    "hydrogen": (_not_needed, _no_alkalinity, _permanent, _floor, _no_bypass_serves),
    "mixed": (_not_needed, _no_alkalinity, _permanent, _floor, _no_bypass_serves),
    "magnesium": (_not_needed, _hardness_not_near, _alkalinity_stays, _little_calcium),
    "sodium": (
        _not_needed,
        _already_soft,
        _alkalinity_stays,
        _permanent_for_taste,
        _low_sodium,
    ),
    "membrane": (_in_window_already, _only_thin),
    "polyphosphate": (_films,),
    REMINERALISE: (_not_thin,),
}


# --- after ----------------------------------------------------------------------------------------


def _out_of_window(case: Case, near: float) -> list[Reason]:
    """Where the machine's water lies clearly outside the window whatever the bypass."""
    setting, figures = case.setting, case.figures
    window = setting.window
    found = []
    for name, value, band, unit in (
        ("hardness", figures.hardness_mmol_l.p50, window.hardness_mmol_l, "mmol_l"),
        ("alkalinity", figures.alkalinity_meq_l.p50, window.alkalinity_meq_l, "meq_l"),
        ("calcium", figures.calcium_mmol_l.p50, window.calcium_mmol_l, "mmol_l"),
    ):
        if value > band.ceiling * near:
            found.append(_against(f"{name}-high", "", value, band.ceiling, unit))
        elif value * near < band.floor:
            found.append(_against(f"{name}-low", "", value, band.floor, unit))
    return found


def short_of_minerals(case: Case) -> bool:
    """Whether a family that puts minerals back stops short of the window: it still goes the right
    way, and dosing can do the rest."""
    window, figures = case.setting.window, case.figures
    low = figures.hardness_mmol_l.p50 < window.hardness_mmol_l.floor
    low = low or figures.alkalinity_meq_l.p50 < window.alkalinity_meq_l.floor
    return puts_minerals_back(case.behind) and low


def _hardly_treats(case: Case) -> Reason | None:
    if case.bypass.share < MOST_ROUND:
        return None
    return reason("hardly-treats", round_share=case.bypass.share)


def just_outside(case: Case) -> Reason | None:
    """Where the likeliest water misses the window narrowly."""
    if short_of_minerals(case):
        return None
    said = outside(
        case.setting, case.figures.hardness_mmol_l.p50, case.figures.alkalinity_meq_l.p50
    )
    if not said:
        return None
    return reason("just-outside", parts=said)


def _sodium_limit(case: Case) -> Reason | None:
    limit = case.setting.window.sodium_mg_l.ceiling
    if case.figures.sodium_mg_l.p50 <= min(limit, SODIUM_LIMIT_MG_L):
        return None
    if case.setting.raw_figures.sodium_mg_l.p50 > limit and case.behind.family != "sodium":
        return reason("sodium-limit", "raw", limit_mg_l=limit)
    return reason(
        "sodium-limit",
        "reached",
        found_mg_l=case.figures.sodium_mg_l.p50,
        limit_mg_l=min(limit, SODIUM_LIMIT_MG_L),
    )


def _scales(variant: str, index: float, setting: Setting) -> Reason:
    return reason(
        "scale",
        variant,
        boiler_c=setting.site.brew_boiler.temp_c,
        found_si=index,
        limit_si=setting.window.si_stop,
    )


def _scale(case: Case) -> Reason | None:
    found = case.figures.brew_si
    if found is None or found.p50 <= case.setting.window.si_stop:
        return None
    return _scales("machine", found.p50, case.setting)


def preference(family: str, aim: Aim) -> float:
    """What a family is worth beside its chance of hitting the window (judgement): the simplest and
    tastiest first, for the machine's sake the one that keeps lime out."""
    return (_FOR_TASTE if aim is Aim.TASTE else _FOR_MACHINE).get(family, 0.0)


_FOR_TASTE: Final = {
    "carbon": 1.0,
    REMINERALISE: 0.3,
    "magnesium": 0.25,
    "mixed": 0.12,
    "hydrogen": 0.1,
    "sodium": -0.35,
    "membrane": -0.3,
}
_FOR_MACHINE: Final = {
    "carbon": 0.6,
    REMINERALISE: 0.3,
    "sodium": 0.25,
    "hydrogen": 0.2,
    "mixed": 0.1,
    "magnesium": -0.3,
    "membrane": -0.3,
}
