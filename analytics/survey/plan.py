"""The survey: from a few tests of raw water to a treatment and its alternatives, with reasons."""

from __future__ import annotations

from typing import Final

import msgspec
import numpy as np

from analytics.media import media
from analytics.medium import Caution, Medium
from analytics.survey.behind import REMINERALISE, Behind, typical
from analytics.survey.case import Figures, Setting, figures_of
from analytics.survey.doubt import Doubt, doubts
from analytics.survey.filling import filled
from analytics.survey.given import Given
from analytics.survey.judge import Candidate, judged, likeliest, with_cautions
from analytics.survey.plane import ScalePlane, scale_plane
from analytics.survey.possible import require_possible
from analytics.survey.report import disagreements
from analytics.survey.site import Site
from analytics.survey.site import require_sensible as require_sensible_site
from analytics.survey.window import DEFAULT, Window
from analytics.survey.window import require_sensible as require_sensible_window
from analytics.survey.words import Reason, reason

WATERS: Final = 240
"""Plausible waters a survey looks at: the 5 and 95 % points rest on twelve waters each."""
SEED: Final = 7
OFFERED: Final = 3
"""Families for which the medium's own cautions are worked out."""
WANTED: Final = ("hardness_mmol_l", "alkalinity_meq_l", "ec25_us_cm", "chloride_mmol_l", "ph")
"""Tests that a survey asks for; the rest is welcome."""
SOFTENED_MMOL_L: Final = 0.1
ROOM: Final = 1.6
"""The plane's index reaches so far beyond raw water and window."""
FITTING: Final = (
    Caution(code="plumbing"),
    Caution(code="electricity"),
)


class Survey(msgspec.Struct, frozen=True, kw_only=True):
    """What the tests come to. `candidates` are all families, the best first; `notes` are remarks on
    raw water as it is; `untested` names what was taken from what is plausible."""

    given: Given
    site: Site
    window: Window
    raw: Figures
    raw_in_window: float
    doubts: tuple[Doubt, ...]
    notes: tuple[Reason, ...]
    untested: tuple[str, ...]
    candidates: tuple[Candidate, ...]
    cautions: tuple[Caution, ...] = ()
    plane: ScalePlane

    @property
    def best(self) -> Candidate:
        """The family to take, or the nearest one where none fits."""
        return self.candidates[0]


def survey(
    given: Given,
    site: Site | None = None,
    window: Window = DEFAULT,
    *,
    report: Given | None = None,
    seed: int = SEED,
) -> Survey:
    """What to fit for this raw water.

    What was not tested comes from the utility's `report`, if there is one. What is unknown widens
    the answer; tests that contradict each other are named and the answer holds both. Raises
    ModelError for figures that cannot be, or if nothing tells how hard the water is.
    """
    place = Site() if site is None else site
    tested, remarks = given, tuple[Reason, ...]()
    if report is not None:
        given, remarks = tested.filled_from(report), disagreements(tested, report)
    require_possible(given)
    require_sensible_site(place)
    require_sensible_window(window)
    setting = _setting(given, place, window, np.random.default_rng(seed))
    return Survey(
        given=given,
        site=place,
        window=window,
        raw=setting.raw_figures,
        raw_in_window=setting.raw_chance,
        doubts=doubts(given),
        notes=(*remarks, *_notes(given, setting)),
        untested=tuple(n for n in WANTED if n not in given.known()),
        candidates=_candidates(given, setting, seed),
        cautions=FITTING,
        plane=_plane(setting),
    )


def turned(
    found: Survey,
    family: str,
    share: float | None = None,
    *,
    seed: int = SEED,
) -> Survey:
    """The same survey with this family first, its bypass (0 to 0.9) where a person turned it; None:
    where it is best. The other families stay as they were judged."""
    rng = np.random.default_rng(seed)
    setting = _setting(found.given, found.site, found.window, rng)
    families = _families()
    medium = families[family]
    rng = np.random.default_rng((seed, list(families).index(family)))
    known = typical(family, medium)
    mine = with_cautions(judged(known, setting, found.given, rng, share), known, setting)
    others = tuple(each for each in found.candidates if each.family != family)
    return msgspec.structs.replace(found, candidates=(mine, *others))


def _plane(setting: Setting) -> ScalePlane:
    """Scale over a plane that holds both raw water and the window."""
    raw, window = setting.raw_figures, setting.window
    ends = (
        (raw.hardness_mmol_l.p95, window.hardness_mmol_l.ceiling),
        (raw.alkalinity_meq_l.p95, window.alkalinity_meq_l.ceiling),
    )
    most = [ROOM * max(ends_) for ends_ in ends]
    return scale_plane(setting.middle, setting.site, *most)


def _setting(given: Given, site: Site, window: Window, rng: np.random.Generator) -> Setting:
    raw = filled(given, WATERS, rng)
    return Setting(
        raw=raw,
        middle=likeliest(raw.water),
        raw_figures=figures_of(raw.water, raw.ec_scale, site, window),
        site=site,
        window=window,
    )


def _families() -> dict[str, Medium | None]:
    """Every family with its medium, where there is one."""
    return {**media(), REMINERALISE: None}


def _candidates(given: Given, setting: Setting, seed: int) -> tuple[Candidate, ...]:
    families = _families()
    known = {name: typical(name, medium) for name, medium in families.items()}
    found = [
        judged(known[name], setting, given, np.random.default_rng((seed, place)))
        for place, name in enumerate(families)
    ]
    ranked = sorted(found, key=lambda each: _order(each, setting))
    return tuple(
        _explained(each, place, known[each.family], setting) for place, each in enumerate(ranked)
    )


def _order(candidate: Candidate, setting: Setting) -> tuple[bool, float]:
    """Those that fit by score; the others by how near they bring the water to the window."""
    if candidate.fits:
        return False, -candidate.score
    return True, _distance(candidate, setting)


def _distance(candidate: Candidate, setting: Setting) -> float:
    """How far outside the window the machine's water lies, in widths of the window."""
    found = candidate.blended
    if found is None:
        return 1e3 + len(candidate.against)
    pairs = (
        (found.hardness_mmol_l.p50, setting.window.hardness_mmol_l),
        (found.alkalinity_meq_l.p50, setting.window.alkalinity_meq_l),
    )
    away = 0.0
    for value, band in pairs:
        width = band.ceiling - band.floor
        away += max(band.floor - value, value - band.ceiling, 0.0) / max(width, 1e-6)
    return away


def _explained(candidate: Candidate, place: int, known: Behind, setting: Setting) -> Candidate:
    if place >= OFFERED or not (candidate.fits or place == 0):
        return candidate
    return with_cautions(candidate, known, setting)


def _notes(given: Given, setting: Setting) -> tuple[Reason, ...]:
    raw = setting.raw_figures
    found = []
    floor = raw.alkalinity_meq_l.p50 - 2 * raw.hardness_mmol_l.p50
    soft = raw.hardness_mmol_l.p50 < SOFTENED_MMOL_L
    if soft and raw.alkalinity_meq_l.p50 > 1.0:
        found.append(reason("softened-already"))
    elif floor > 0.1:
        found.append(reason("alkalinity-exceeds-hardness", floor_meq_l=floor))
    if given.ec25_us_cm is None and given.hardness_mmol_l is None:
        found.append(reason("hardness-inferred", "alone"))
    elif given.hardness_mmol_l is None:
        found.append(reason("hardness-inferred", "conductivity"))
    return tuple(found)
