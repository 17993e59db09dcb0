"""The bypass: which share of raw water round the bed puts the machine's water in the window.

    b = (target/raw - leak) / (1 - leak)

with target and raw as alkalinity (hydrogen, mixed, membrane), hardness (sodium) or calcium
(magnesium) and leak as treated over raw of the same. Where alkalinity exceeds total hardness the
floor alkalinity - total hardness is part of what leaks.
"""

from __future__ import annotations

from typing import Final

import msgspec
import numpy as np

from analytics.chemistry.treatment import blended, bypass_for
from analytics.chemistry.water import Water, hardness_mmol_l, stacked, unstacked
from analytics.samples import Floats
from analytics.survey.window import Window

SHARES: Final[Floats] = np.linspace(0.0, 0.9, 91)
"""Bypass in whole per cent; more than nine tenths round the bed is no treatment."""
LEAST_ROUND: Final = 0.025
"""Less than this no head can be set to: it is shut."""
KEPT: Final = 0.9
"""The aimed bypass stays if this part of the best chance of hitting the window is kept."""


class Bypass(msgspec.Struct, frozen=True, kw_only=True):
    """A setting of the head. `low` to `high` keeps the likeliest water in the window (None: no
    setting does). `of` says what target, raw and leak are amounts of, in mmol/L or meq/L."""

    share: float
    low: float | None
    high: float | None
    of: str
    target: float
    raw: float
    leak: float
    formula: float
    chance: float

    @property
    def moved(self) -> bool:
        """Whether the setting had to leave what the formula says to stay in the window."""
        return abs(self.share - self.formula) > 0.011


TARGETS: Final = {"sodium": "total hardness", "magnesium": "calcium"}
"""What the bypass of a family is set by, where it is not alkalinity."""


def amount(source: Water, of: str) -> Floats:
    """The amount that a bypass is set by."""
    if of == "total hardness":
        return hardness_mmol_l(source)
    return source.ca_mmol_l if of == "calcium" else source.alkalinity_meq_l


def target(window: Window, of: str, calcium_mmol_l: float) -> float:
    """What to aim at; `calcium_mmol_l` is where the brew boiler is at its limit of scale."""
    if of == "total hardness":
        return window.hardness_mmol_l.aimed
    if of == "calcium":
        return calcium_mmol_l
    return window.alkalinity_meq_l.aimed


def blends(treated: Water, raw: Water, shares: Floats = SHARES) -> Water:
    """Every blend; bypass in the last axis."""
    first, second = (unstacked(stacked(each)[..., None]) for each in (treated, raw))
    return blended(first, second, shares)


def chances(treated: Water, raw: Water, window: Window, chloride_mmol_l: float) -> Floats:
    """Share of the waters that lie in the window, for each bypass."""
    mixed = blends(treated, raw)
    held = window.holds(hardness_mmol_l(mixed), mixed.alkalinity_meq_l)
    held = held & window.calcium_mmol_l.holds(mixed.ca_mmol_l)
    held = held & (mixed.cl_mmol_l <= np.maximum(chloride_mmol_l, treated.cl_mmol_l[..., None]))
    return np.asarray(np.mean(held, axis=0))


def chosen(
    of: str,
    aim: float,
    middle: tuple[Water, Water],
    chance: Floats,
    window: Window,
    most: float,
) -> Bypass:
    """The setting for the likeliest (treated, raw) water; `most` is the largest that scale allows.

    What the formula says stands as long as it keeps nine tenths of the best chance of hitting the
    window; otherwise the setting with the best chance, nearest to the formula, is taken.
    """
    treated, raw = middle
    before, after = float(amount(raw, of)), float(amount(treated, of))
    leak = min(after / max(before, 1e-9), 0.999)
    formula = float(bypass_for(aim, max(before, 1e-9), leak))
    mixed = blends(treated, raw)
    held = window.holds(hardness_mmol_l(mixed), mixed.alkalinity_meq_l)
    inside = SHARES[held] if np.any(held) else None
    wanted = min(formula, most, float(SHARES[-1]))
    place = int(np.argmin(np.abs(SHARES - wanted)))
    allowed = np.where(most + 1e-9 >= SHARES, chance, -1.0)
    if chance[place] < KEPT * float(allowed.max()):
        good = np.flatnonzero(allowed >= 0.98 * float(allowed.max()))
        place = int(good[np.argmin(np.abs(SHARES[good] - wanted))])
    if SHARES[place] < LEAST_ROUND:
        place = 0
    return Bypass(
        share=round(float(SHARES[place]), 2),
        low=None if inside is None else round(float(inside[0]), 2),
        high=None if inside is None else round(float(inside[-1]), 2),
        of=of,
        target=aim,
        raw=before,
        leak=leak,
        formula=formula,
        chance=float(chance[place]),
    )


def stood(best: Bypass, share: float, chance: Floats) -> Bypass:
    """The same with the head at another share than the best one (0 to 0.9)."""
    place = int(np.argmin(np.abs(SHARES - share)))
    return msgspec.structs.replace(
        best, share=round(float(SHARES[place]), 2), chance=float(chance[place])
    )


def none_round(chance: float) -> Bypass:
    """All water through the bed: a family without a bypass."""
    return Bypass(
        share=0.0,
        low=None,
        high=None,
        of="",
        target=0.0,
        raw=0.0,
        leak=0.0,
        formula=0.0,
        chance=chance,
    )
