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
from analytics.survey.words import Reason, of_hundred, reason

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


def outside(setting: Setting, hardness: float, alkalinity: float) -> list[str]:
    """How a point of the plane lies outside the window, in words."""
    units, window = setting.units, setting.window
    said = []
    for name, value, band, shown in (
        ("hardness", hardness, window.hardness_mmol_l, units.hard),
        ("alkalinity", alkalinity, window.alkalinity_meq_l, units.alk),
    ):
        if value > band.ceiling:
            said.append(f"{name} {shown(value)} is above {shown(band.ceiling)}")
        elif value < band.floor:
            said.append(f"{name} {shown(value)} is below {shown(band.floor)}")
    return said


def _carbon(setting: Setting) -> Reason | None:
    if _in_window(setting):
        return None
    said = outside(setting, _hardness(setting), _alkalinity(setting))
    if said:
        return reason("changes-nothing", f"Raw {' and '.join(said)}; carbon changes neither.")
    if setting.brew_si > setting.window.si_stop:
        return reason("scale", _scale_words(setting.brew_si, setting) + " Carbon takes no lime.")
    chance = of_hundred(setting.raw_chance)
    text = f"Raw water is in the window in only {chance}; carbon changes neither figure."
    return reason("changes-nothing", text)


def _not_needed(setting: Setting) -> Reason | None:
    if not _in_window(setting) or setting.brew_si > setting.window.si_watch:
        return None
    if setting.chloride_over >= LIKELY:
        return None
    return reason("not-needed", "Raw water is in the window already: carbon is enough.")


def _in_window_already(setting: Setting) -> Reason | None:
    if not _in_window(setting) or setting.chloride_over >= LIKELY:
        return None
    return reason("not-needed", "Raw water is in the window already: a membrane is not called for.")


def _no_alkalinity(setting: Setting) -> Reason | None:
    """For what works on alkalinity: nothing to take where it is not too high."""
    found, band = _alkalinity(setting), setting.window.alkalinity_meq_l
    if found > band.ceiling:
        return None
    shown = setting.units.alk
    where = "below" if found < band.floor else "within"
    text = (
        f"It lowers alkalinity, but that of raw water ({shown(found)}) is {where} the window "
        f"already ({shown(band.floor)} to {shown(band.ceiling)})."
    )
    return reason("alkalinity-not-high", text)


def _permanent(setting: Setting) -> Reason | None:
    """What stays when alkalinity is brought down to the lower edge of the window."""
    window = setting.window
    taken = max(_alkalinity(setting) - window.alkalinity_meq_l.floor, 0.0) / 2
    left, limit = _hardness(setting) - taken, window.hardness_mmol_l.ceiling
    if left <= limit * NEAR:
        return None
    hard = setting.units.hard
    text = (
        f"It takes only the hardness that goes with alkalinity: {hard(left)} would stay, above "
        f"{hard(limit)}. The rest is permanent (gypsum, salt)."
    )
    return reason("permanent-stays", text)


def _floor(setting: Setting) -> Reason | None:
    left = _alkalinity(setting) - 2 * _hardness(setting)
    limit = setting.window.alkalinity_meq_l.ceiling
    if left <= limit * NEAR:
        return None
    shown = setting.units.alk
    text = (
        f"Alkalinity exceeds hardness: {shown(left)} of it goes with sodium and stays, above "
        f"{shown(limit)}."
    )
    return reason("floor", text)


def _no_bypass_serves(setting: Setting) -> Reason | None:
    """Where taking alkalinity down to the window's top already makes the water too soft."""
    window = setting.window
    taken = max(_alkalinity(setting) - window.alkalinity_meq_l.ceiling, 0.0) / 2
    left, least = _hardness(setting) - taken, window.hardness_mmol_l.floor
    if left * NEAR >= least:
        return None
    hard = setting.units.hard
    text = (
        f"It takes hardness with the alkalinity: once alkalinity is in the window only "
        f"{hard(max(left, 0.0))} of hardness is left, below {hard(least)}."
    )
    return reason("too-soft-behind", text)


def _hardness_not_near(setting: Setting) -> Reason | None:
    found, band = _hardness(setting), setting.window.hardness_mmol_l
    hard = setting.units.hard
    if found > band.ceiling * NEAR:
        limit = hard(band.ceiling)
        text = f"Total hardness stays: {hard(found)} is too far above the window's {limit}."
        return reason("hardness-stays", text)
    if found * NEAR < band.floor:
        text = f"Raw water has only {hard(found)} of hardness: there is nothing to swap."
        return reason("already-soft", text)
    return None


def _alkalinity_stays(setting: Setting) -> Reason | None:
    found, limit = _alkalinity(setting), setting.window.alkalinity_meq_l.ceiling
    if found <= limit * NEAR:
        return None
    shown = setting.units.alk
    text = f"Alkalinity stays: {shown(found)}, above the window's {shown(limit)}: a flat cup."
    return reason("alkalinity-stays", text)


def _little_calcium(setting: Setting) -> Reason | None:
    share = setting.raw_figures.calcium_mmol_l.p50 / max(_hardness(setting), 1e-9)
    if share >= CALCIUM_HEAVY:
        return None
    text = (
        f"Only {100 * share:.0f} % of the hardness is calcium: swapping it for magnesium changes "
        "little."
    )
    return reason("magnesium-rich", text)


def _already_soft(setting: Setting) -> Reason | None:
    found, band = _hardness(setting), setting.window.hardness_mmol_l
    if found > max(band.floor, 0.02):
        return None
    text = f"Raw water is soft already ({setting.units.hard(found)}): there is nothing to take."
    return reason("already-soft", text)


def _permanent_for_taste(setting: Setting) -> Reason | None:
    """Gypsum water: softening would only trade one salt for another in the cup."""
    limit = PERMANENT * setting.window.hardness_mmol_l.ceiling
    found = _hardness(setting)
    if setting.site.aim is not Aim.TASTE or found <= limit:
        return None
    if _alkalinity(setting) / 2 >= MOSTLY * found:
        return None
    text = (
        f"Most of {setting.units.hard(found)} is permanent hardness (gypsum, salt): it would come "
        "back as sodium salt in the cup. A membrane takes it out."
    )
    return reason("permanent-to-sodium", text)


def _low_sodium(setting: Setting) -> Reason | None:
    if not setting.site.low_sodium:
        return None
    return reason("low-sodium", "It adds sodium, and the water must stay low in sodium.")


def _not_thin(setting: Setting) -> Reason | None:
    window = setting.window
    hardness, alkalinity = _hardness(setting), _alkalinity(setting)
    if alkalinity > window.alkalinity_meq_l.ceiling or hardness > window.hardness_mmol_l.ceiling:
        text = "It adds hardness and alkalinity, and the water has too much already."
        return reason("not-thin", text)
    if hardness >= window.hardness_mmol_l.floor and alkalinity >= window.alkalinity_meq_l.floor:
        return reason("not-thin", "Raw water has minerals enough: nothing needs to be put back.")
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
    text = "Raw water is thin already: putting minerals back does it without a membrane."
    return reason("already-thin", text)


def _chloride(setting: Setting) -> Reason | None:
    if setting.chloride_over < LIKELY:
        return None
    found, limit = setting.raw_figures.chloride_mg_l.p50, setting.window.chloride_stop_mg_l
    text = (
        f"Chloride of about {found:.0f} mg/L stays, above {limit:.0f} mg/L: it corrodes stainless "
        "steel and brass. Only a membrane takes it out."
    )
    return reason("chloride", text)


def _films(setting: Setting) -> Reason | None:
    text = (
        "It leaves hardness where it is, and its films and sludge can block the water passages of "
        "an espresso machine, as small as 0.5 mm."
    )
    return reason("films", text)


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
    for name, value, band, shown in (
        ("hardness", figures.hardness_mmol_l.p50, window.hardness_mmol_l, setting.units.hard),
        ("alkalinity", figures.alkalinity_meq_l.p50, window.alkalinity_meq_l, setting.units.alk),
        ("calcium", figures.calcium_mmol_l.p50, window.calcium_mmol_l, setting.units.hard),
    ):
        if value > band.ceiling * near:
            text = f"The machine would still get {name} of {shown(value)}, above "
            found.append(reason(f"{name}-high", f"{text}{shown(band.ceiling)}."))
        elif value * near < band.floor:
            text = f"The machine would get {name} of only {shown(value)}, below "
            found.append(reason(f"{name}-low", f"{text}{shown(band.floor)}."))
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
    text = f"With {100 * case.bypass.share:.0f} % round the bed it would hardly treat the water."
    return reason("hardly-treats", text)


def just_outside(case: Case) -> Reason | None:
    """Where the likeliest water misses the window narrowly."""
    if short_of_minerals(case):
        return None
    said = outside(
        case.setting, case.figures.hardness_mmol_l.p50, case.figures.alkalinity_meq_l.p50
    )
    if not said:
        return None
    return reason("just-outside", f"Just outside the window: {' and '.join(said)}.")


def _sodium_limit(case: Case) -> Reason | None:
    limit = case.setting.window.sodium_mg_l.ceiling
    if case.figures.sodium_mg_l.p50 <= min(limit, SODIUM_LIMIT_MG_L):
        return None
    if case.setting.raw_figures.sodium_mg_l.p50 > limit and case.behind.family != "sodium":
        text = f"Raw sodium is above {limit:.0f} mg/L already and stays."
        return reason("sodium-limit", text)
    text = (
        f"Sodium would reach {case.figures.sodium_mg_l.p50:.0f} mg/L, above the limit of "
        f"{min(limit, SODIUM_LIMIT_MG_L):.0f} mg/L."
    )
    return reason("sodium-limit", text)


def _scale_words(index: float, setting: Setting) -> str:
    boiler = setting.site.brew_boiler
    return (
        f"In the brew boiler at {boiler.temp_c:.0f} C the saturation index is {index:+.1f}, "
        f"above {setting.window.si_stop:+.1f}: scale."
    )


def _scale(case: Case) -> Reason | None:
    found = case.figures.brew_si
    if found is None or found.p50 <= case.setting.window.si_stop:
        return None
    return reason("scale", _scale_words(found.p50, case.setting))


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
