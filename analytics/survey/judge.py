"""One family with this water: its bypass, what the machine gets, its size, and the verdict."""

from __future__ import annotations

from enum import StrEnum
from typing import Final

import msgspec
import numpy as np

from analytics.chemistry.masses import CACO3, CL
from analytics.chemistry.treatment import blended
from analytics.chemistry.water import Water, hardness_mmol_l, stacked, unstacked
from analytics.media.membrane import RemineralisedMembrane
from analytics.medium import HYGIENE, Caution, hardness_of_kind
from analytics.samples import Floats
from analytics.survey import rules
from analytics.survey.behind import (
    Behind,
    has_bypass,
    puts_minerals_back,
    tuned,
    with_column,
)
from analytics.survey.blend import (
    SHARES,
    TARGETS,
    Bypass,
    blends,
    chances,
    chosen,
    none_round,
    stood,
    target,
)
from analytics.survey.cares import cares
from analytics.survey.case import Case, Figures, Setting, figures_of
from analytics.survey.given import Given
from analytics.survey.scale import boiler_si
from analytics.survey.sizing import Size, sized
from analytics.survey.words import Reason

OWN_WORDS: Final = ("corrosion", "chloride", "permanent", "sodium-diet", "sodium-limit", "films")
"""Cautions of a medium that a survey says itself, for the blended water."""
ROOM: Final = 1.1
"""Minerals are put back up to a tenth above the least hardness."""
MOST_MAGNESIUM_ROUND: Final = 0.5
"""With more than half round the bed an exchange of calcium is not worth its cartridge."""


class Verdict(StrEnum):
    """Whether a family does for this water."""

    FITS = "fits"
    CARE = "fits with care"
    NOT = "does not fit"


class Candidate(msgspec.Struct, frozen=True, kw_only=True):
    """One family, judged. `against` says why it does not fit, `care` what to mind if it does;
    `cautions` are the medium's own. Without `blended` the raw water alone ruled it out."""

    family: str
    verdict: Verdict
    score: float
    against: tuple[Reason, ...] = ()
    care: tuple[Reason, ...] = ()
    cautions: tuple[Caution, ...] = ()
    chance_in_window: float | None = None
    bypass: Bypass | None = None
    blended: Figures | None = None
    size: Size | None = None
    calcite_g_a_day: float | None = None

    @property
    def fits(self) -> bool:
        """Whether it may be chosen."""
        return self.verdict is not Verdict.NOT


def judged(
    known: Behind,
    setting: Setting,
    given: Given,
    rng: np.random.Generator,
    share: float | None = None,
) -> Candidate:
    """The family's verdict; the column model runs only where raw water does not rule it out.

    With a `share` the bypass stands there, whatever would be best.
    """
    out = rules.before(known.family, setting)
    if out:
        return Candidate(
            family=known.family,
            verdict=Verdict.NOT,
            score=-1.0,
            against=out,
        )
    known = _fitted(known, setting)
    case = _case(known, setting, rng, share)
    against = rules.after(case)
    minded = cares(case, given)
    verdict = Verdict.NOT if against else Verdict.CARE if minded else Verdict.FITS
    return Candidate(
        family=known.family,
        verdict=verdict,
        score=_score(case) if not against else -0.5,
        against=against,
        care=minded,
        chance_in_window=case.bypass.chance,
        bypass=case.bypass if has_bypass(known) else None,
        blended=case.figures,
        size=_size(case, rng),
        calcite_g_a_day=_calcite(case),
    )


def with_cautions(candidate: Candidate, known: Behind, setting: Setting) -> Candidate:
    """The candidate with its medium's own cautions for the likeliest water."""
    if known.medium is None:
        return msgspec.structs.replace(candidate, cautions=(HYGIENE,))
    found = known.medium.cautions(setting.middle)
    kept = tuple(each for each in found if each.code not in OWN_WORDS)
    return msgspec.structs.replace(candidate, cautions=kept)


def _fitted(known: Behind, setting: Setting) -> Behind:
    """The family with its own leakage and minerals for the likeliest water."""
    window = setting.window
    least = window.hardness_mmol_l.floor * ROOM
    tuned_ = tuned(known, setting.middle, least, window.alkalinity_meq_l.aimed)
    return with_column(tuned_, setting.middle)


def _case(known: Behind, setting: Setting, rng: np.random.Generator, share: float | None) -> Case:
    raw = setting.raw.water
    treated = known.treated(raw, known.leaks(rng, raw.shape[0]))
    bypass = _bypass(known, setting, treated, share)
    mixed = blended(treated, raw, bypass.share)
    return Case(
        setting=setting,
        behind=known,
        bypass=bypass,
        treated=treated,
        blended=mixed,
        figures=figures_of(mixed, setting.raw.ec_scale, setting.site, setting.window),
    )


def _bypass(known: Behind, setting: Setting, treated: Water, share: float | None) -> Bypass:
    window, raw = setting.window, setting.raw.water
    chloride = window.chloride_watch_mg_l if setting.site.chloride_matters else np.inf
    if known.family != "membrane":
        chloride = np.inf
    chance = chances(treated, raw, window, chloride / CL)
    if not has_bypass(known):
        return none_round(float(chance[0]))
    of = TARGETS.get(known.family, "alkalinity")
    middle = (known.treated(setting.middle, known.leak.p50), setting.middle)
    most = _most_for_scale(middle, setting)
    if of == "calcium":
        most = min(most, MOST_MAGNESIUM_ROUND)
    calcium = most * float(setting.middle.ca_mmol_l) + (1 - most) * float(middle[0].ca_mmol_l)
    aim = target(window, of, calcium)
    best = chosen(of, aim, middle, chance, window, most)
    return best if share is None else stood(best, share, chance)


def _most_for_scale(middle: tuple[Water, Water], setting: Setting) -> float:
    """Largest bypass that keeps the brew boiler below its watched index; all where none does."""
    if not setting.site.brews:
        return float(SHARES[-1])
    index = boiler_si(blends(*middle), setting.site.brew_boiler)
    for limit in (setting.window.si_watch, setting.window.si_stop):
        below = SHARES[index <= limit]
        if below.size:
            return float(below[-1])
    return float(SHARES[-1])


def _size(case: Case, rng: np.random.Generator) -> Size | None:
    medium = case.behind.medium
    if medium is None or medium.capacity_kind is None:
        return None
    kind = medium.capacity_kind
    gone = hardness_of_kind(case.setting.raw.water, kind) - hardness_of_kind(case.treated, kind)
    return sized(np.maximum(gone, 0.0), kind, case.bypass.share, case.setting.site, rng)


def _calcite(case: Case) -> float | None:
    """Grams of calcite dissolved on an open day."""
    litres = case.setting.site.litres_a_day
    if litres is None or not puts_minerals_back(case.behind):
        return None
    raw, medium = case.setting.raw.water, case.behind.medium
    start = medium.permeate(raw) if isinstance(medium, RemineralisedMembrane) else raw
    added: Floats = case.treated.ca_mmol_l - start.ca_mmol_l
    return float(np.median(added)) * CACO3 * litres * (1 - case.bypass.share) / 1000


def _score(case: Case) -> float:
    """Chance of the window or close to it, what the family is worth, less what scale it leaves."""
    setting = case.setting
    scale = 0.0
    if case.figures.brew_si is not None:
        scale = 0.3 * max(case.figures.brew_si.p50 - setting.window.si_watch, 0.0)
    worth = rules.preference(case.behind.family, setting.site.aim)
    return (case.bypass.chance + _near_chance(case)) / 2 + worth - scale


def _near_chance(case: Case) -> float:
    """Share of the waters that lie in the window or near it."""
    window, mixed = case.setting.window, case.blended
    pairs = (
        (hardness_mmol_l(mixed), window.hardness_mmol_l),
        (mixed.alkalinity_meq_l, window.alkalinity_meq_l),
    )
    held = [(v * rules.NEAR >= band.floor) & (v <= rules.NEAR * band.ceiling) for v, band in pairs]
    return float(np.mean(held[0] & held[1]))


def likeliest(source: Water) -> Water:
    """One water in the middle of many: the median of each amount."""
    return unstacked(np.median(stacked(source), axis=1))
