"""One family with one site's plausible waters: everything a rule may look at."""

from __future__ import annotations

from typing import Final

import msgspec
import numpy as np

from analytics.chemistry.carbonate import aerated, ph
from analytics.chemistry.conductivity import ec25_us_cm
from analytics.chemistry.masses import CL, NA
from analytics.chemistry.water import Water, hardness_mmol_l
from analytics.samples import Floats, Spread
from analytics.survey.behind import Behind
from analytics.survey.blend import Bypass
from analytics.survey.filling import Filled
from analytics.survey.scale import boiler_si, dropped_mg_l
from analytics.survey.site import Site
from analytics.survey.spreads import spread_of
from analytics.survey.window import Window

SOME: Final = 24
"""Waters over which lime is followed to equilibrium: enough for a median, quick enough to wait."""


class Figures(msgspec.Struct, frozen=True, kw_only=True):
    """A water at the machine, each figure with its 5-95 %.

    `ph` is that straight at the tap, with all carbon dioxide still in it, `open_ph` the median once
    the water has stood in air. `..._si` are saturation indices of calcite in the boilers, filled
    and closed; `open_brew_si` is the median once the carbon dioxide has gone. `..._lime_mg_l` are
    medians of lime, mg as CaCO3, that a litre of feed can leave there. None where the machine has
    no such boiler.
    """

    hardness_mmol_l: Spread
    alkalinity_meq_l: Spread
    calcium_mmol_l: Spread
    ec25_us_cm: Spread
    tds_mg_l: Spread
    ph: Spread
    open_ph: float
    sodium_mg_l: Spread
    chloride_mg_l: Spread
    brew_si: Spread | None
    open_brew_si: float | None
    brew_lime_mg_l: float | None
    steam_si: Spread | None
    steam_lime_mg_l: float | None


class Setting(msgspec.Struct, frozen=True, kw_only=True, eq=False):
    """What is the same for all families: raw water (many, and the likeliest one), site, window."""

    raw: Filled
    middle: Water
    raw_figures: Figures
    site: Site
    window: Window

    @property
    def raw_chance(self) -> float:
        """Share of raw waters that lie in the window as they are."""
        source = self.raw.water
        held = self.window.holds(hardness_mmol_l(source), source.alkalinity_meq_l)
        return float(np.mean(held & self.window.calcium_mmol_l.holds(source.ca_mmol_l)))

    @property
    def brew_si(self) -> float:
        """Median index of raw water in the brew boiler; that of the steam boiler, where it is the
        only one, does not count: it thickens whatever it gets."""
        found = self.raw_figures.brew_si
        return -np.inf if found is None else found.p50

    @property
    def chloride_over(self) -> float:
        """Chance that chloride is above what boilers stand."""
        if not self.site.chloride_matters:
            return 0.0
        return float(np.mean(self.raw.water.cl_mmol_l * CL > self.window.chloride_stop_mg_l))


class Case(msgspec.Struct, frozen=True, kw_only=True, eq=False):
    """One family at its best bypass."""

    setting: Setting
    behind: Behind
    bypass: Bypass
    treated: Water
    blended: Water
    figures: Figures


def figures_of(source: Water, ec_scale: Floats, site: Site, window: Window) -> Figures:
    """What a row of plausible waters comes to at the machine."""
    ec = ec25_us_cm(source) * ec_scale
    some = source.at(slice(0, None, max(1, source.shape[0] // SOME)))
    brew, steam = site.brew_boiler, site.steam_boiler
    stood = aerated(some, 25.0)
    return Figures(
        hardness_mmol_l=spread_of(hardness_mmol_l(source)),
        alkalinity_meq_l=spread_of(source.alkalinity_meq_l),
        calcium_mmol_l=spread_of(source.ca_mmol_l),
        ec25_us_cm=spread_of(ec),
        tds_mg_l=spread_of(ec * window.tds_factor),
        ph=spread_of(ph(source)),
        open_ph=float(np.median(ph(stood))),
        sodium_mg_l=spread_of(source.na_mmol_l * NA),
        chloride_mg_l=spread_of(source.cl_mmol_l * CL),
        brew_si=spread_of(boiler_si(source, brew)) if site.brews else None,
        open_brew_si=float(np.median(boiler_si(stood, brew))) if site.brews else None,
        brew_lime_mg_l=float(np.median(dropped_mg_l(some, brew))) if site.brews else None,
        steam_si=spread_of(boiler_si(source, steam)) if site.steams else None,
        steam_lime_mg_l=float(np.median(dropped_mg_l(some, steam))) if site.steams else None,
    )
