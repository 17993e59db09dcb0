"""What a medium is: the form that every file in `media` fills in once.

A medium says what it takes out of a given raw water, what water it makes of it along its life,
how it ends, how far conductivity can follow it, and what a person must know before using it.
"""

from __future__ import annotations

from enum import StrEnum
from typing import Final

import msgspec
import numpy as np

from analytics.chemistry.water import (
    Water,
    balanced,
    carbonate_hardness_mmol_l,
    hardness_mmol_l,
)
from analytics.samples import Floats
from analytics.setup import CapacityKind

NA_MG_PER_MMOL: Final = 22.98977
CL_MG_PER_MMOL: Final = 35.45
SODIUM_LIMIT_MG_L: Final = 200.0
"""Directive (EU) 2020/2184, indicator parameter."""
SODIUM_DIET_MG_L: Final = 20.0
"""US EPA advisory for people on a very low sodium diet (from memory)."""
CHLORIDE_BOILER_MG_L: Final = 50.0
"""Above 30-50 mg/L stainless and brass boilers corrode (common practice, no source)."""
ACID_PH: Final = 6.5
"""Lower end of drinking-water pH in Directive (EU) 2020/2184."""
THIN_ALKALINITY_MEQ_L: Final = 0.5
"""Less buffer than this leaves acid unopposed in boilers (common practice, no source)."""

ONE_PROBE_SD_PCT: Final = 3.3
"""Outlet conductivity alone: probe gain, raw-water drift and bypass together, % of raw EC25."""
PAIR_SD_PCT: Final = 0.8
"""Outlet against inlet after both have read raw water once, % of raw EC25."""


class EndsBy(StrEnum):
    """What brings a medium to its end."""

    HARDNESS_RETURNS = "hardness returns"
    MINERALS_FALL = "outlet hardness and conductivity fall"
    LITRES_AND_MONTHS = "litres and months"


class Sharpener(StrEnum):
    """Drop test that tells most about where a medium stands."""

    TOTAL = "total hardness"
    ALKALINITY = "alkalinity"
    CALCIUM = "calcium"


class Caution(msgspec.Struct, frozen=True, kw_only=True):
    """Something to know before using a medium with this water, as a code that stays the same for
    ever. `variant` tells sentences of one code apart; the names of `values` end in their units."""

    code: str
    variant: str = ""
    values: dict[str, float] = {}


class Contrast(msgspec.Struct, frozen=True, kw_only=True):
    """What conductivity sees of a medium, in % of raw EC25, without bypass.

    `fresh_pct` is a new bed against raw water; the rises are against the new bed, with a tenth of
    life left and at the end of capacity.
    """

    fresh_pct: float
    rise_at_tenth_pct: float
    rise_at_end_pct: float

    def sigmas(self, sd_pct: float) -> float:
        """How many standard deviations the end stands out with a spread of readings `sd_pct`."""
        return abs(self.rise_at_end_pct) / sd_pct


class Medium(msgspec.Struct, frozen=True, kw_only=True):
    """One family of media. Subclasses say how they treat water; this one leaves it as it is.

    `capacity_kind` is None where no hardness is
    taken out and only litres and months count. `standing` are cautions that always hold.
    """

    name: str
    ends_by: EndsBy = EndsBy.LITRES_AND_MONTHS
    capacity_kind: CapacityKind | None = None
    sharpened_by: Sharpener | None = None
    standing: tuple[Caution, ...] = ()

    def treated(self, raw: Water, used: float | Floats = 0.0) -> Water:
        """Water straight behind the medium at a share of life used (0 new, 1 end of capacity).

        With several waters or several shares the two broadcast.
        """
        return as_columns(balanced(raw), np.shape(used))

    def removable(self, raw: Water, kind: CapacityKind) -> Floats:
        """Hardness of a kind that a new medium takes out of this water, mmol/L; never negative."""
        left = hardness_of_kind(self.treated(raw), kind)
        return np.maximum(hardness_of_kind(balanced(raw), kind) - left, 0.0)

    def contrast(self, raw: Water) -> Contrast:
        """What conductivity sees of this medium with this (single) water."""
        return Contrast(fresh_pct=0.0, rise_at_tenth_pct=0.0, rise_at_end_pct=0.0)

    def cautions(self, raw: Water) -> tuple[Caution, ...]:
        """What to know before using this medium with this (single) water."""
        return self.standing


def hardness_of_kind(source: Water, kind: CapacityKind) -> Floats:
    """Hardness of a kind, mmol/L."""
    if kind is CapacityKind.CALCIUM:
        return source.ca_mmol_l
    if kind is CapacityKind.CARBONATE:
        return carbonate_hardness_mmol_l(source)
    return hardness_mmol_l(source)


def as_columns(source: Water, shape: tuple[int, ...]) -> Water:
    """The same water broadcast against a shape of shares used."""
    wide = np.broadcast_shapes(source.shape, shape)
    return Water(**{n: np.broadcast_to(getattr(source, n), wide) for n in Water.__struct_fields__})


HYGIENE: Final = Caution(code="hygiene")
FLUSH: Final = Caution(code="flush")
CONFIRM: Final = Caution(code="confirm")
ALWAYS: Final = (HYGIENE, FLUSH, CONFIRM)


def acid(ph: float, alkalinity_meq_l: float, when: str = "new") -> tuple[Caution, ...]:
    """Corrosion by water of low pH or little alkalinity; `when` in the cartridge's life."""
    if ph >= ACID_PH and alkalinity_meq_l >= THIN_ALKALINITY_MEQ_L:
        return ()
    values = {"found_ph": ph, "alkalinity_meq_l": max(alkalinity_meq_l, 0.0)}
    return (Caution(code="corrosion", variant=when, values=values),)


def chloride(raw: Water) -> tuple[Caution, ...]:
    """Chloride that exchange cannot take out."""
    found = float(raw.cl_mmol_l) * CL_MG_PER_MMOL
    if found <= CHLORIDE_BOILER_MG_L:
        return ()
    return (Caution(code="chloride", values={"found_mg_l": found}),)


def sodium_diet(na_mmol_l: float, added_mmol_l: float) -> tuple[Caution, ...]:
    """Sodium that softening adds, against the drinking-water limit and low-sodium diets."""
    found, added = na_mmol_l * NA_MG_PER_MMOL, added_mmol_l * NA_MG_PER_MMOL
    diet = Caution(code="sodium-diet", values={"added_mg_l": added})
    if found <= SODIUM_LIMIT_MG_L:
        return (diet,)
    values = {"found_mg_l": found, "limit_mg_l": SODIUM_LIMIT_MG_L}
    return (diet, Caution(code="sodium-limit", values=values))


def faint(contrast: Contrast) -> tuple[Caution, ...]:
    """What conductivity cannot tell about the end of this medium with this water."""
    if contrast.sigmas(ONE_PROBE_SD_PCT) >= 2.0:
        return ()
    change = contrast.rise_at_end_pct
    whom = "one" if contrast.sigmas(PAIR_SD_PCT) >= 3.0 else "pair"
    variant = f"{whom}-{'rises' if change >= 0 else 'falls'}"
    return (Caution(code="faint", variant=variant, values={"change_pct": abs(change)}),)
