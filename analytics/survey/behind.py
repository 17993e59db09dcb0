"""Water straight behind each family's new bed, by mass balance, with the fresh leakage of its bed.

What leaks comes from the column model once for the likeliest raw water; the rest is equivalents, so
that hundreds of plausible waters can be treated at once. Sodium that a bed takes up and gives back
along its life is left out: a survey plans for the whole life, not for its first fifth.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

import msgspec
import numpy as np

from analytics.chemistry.carbonate import co2_mmol_l
from analytics.chemistry.treatment import (
    calcium_and_magnesium_for_hydrogen,
    calcium_and_magnesium_for_sodium,
    calcium_for_magnesium,
)
from analytics.chemistry.water import (
    Water,
    carbonate_hardness_mmol_l,
    changed,
)
from analytics.chemistry.water import hardness_mmol_l as hardness_mmol_l_of
from analytics.exchange_medium import ExchangeMedium
from analytics.media.membrane import WITHOUT_CO2_MMOL_L, RemineralisedMembrane
from analytics.medium import Medium
from analytics.samples import Floats, Spread

REMINERALISE: Final = "remineralise"
"""Calcite bed on its own, for water that is soft and thin; no medium of its own is logged."""
MOST_MINERALS_MMOL_L: Final = 0.6
"""Calcite put back at most, as behind a membrane (common practice, no source)."""
MIXED_CALCIUM_SHARE: Final = 0.05
"""Calcium of the hardness that a mixed bed leaves in a carbonate water: the rest is magnesium. In
gypsum water the magnesium gives out before the bed does (column model, half way through life)."""
MID_LIFE: Final = 0.5
MINERALS_MISS: Final = Spread(p05=-0.15, p50=0.0, p95=0.15)
"""How closely the bypass round a calcite bed can be set (common practice, no source)."""
TYPICAL: Final = {
    "hydrogen": Spread(p05=0.005, p50=0.02, p95=0.05),
    "mixed": Spread(p05=0.09, p50=0.16, p95=0.30),
    "magnesium": Spread(p05=0.01, p50=0.04, p95=0.10),
    "sodium": Spread(p05=0.0, p50=0.002, p95=0.01),
    "membrane": MINERALS_MISS,
    REMINERALISE: MINERALS_MISS,
}
"""Fresh leakage over tap waters, before the column has run with this one."""
NO_LEAK: Final = Spread(p05=0.0, p50=0.0, p95=0.0)


class Behind(msgspec.Struct, frozen=True, kw_only=True):
    """A family as a survey treats water with it. `leak` is the fresh leakage of its kind; where
    minerals are put back, the share by which they fall short of what was set."""

    family: str
    medium: Medium | None
    leak: Spread
    calcium_share: float = MIXED_CALCIUM_SHARE

    def treated(self, raw: Water, leak: float | Floats) -> Water:
        """Water behind a new bed that leaks this share."""
        if isinstance(self.medium, RemineralisedMembrane):
            return _membrane(self.medium, raw, np.asarray(leak, dtype=np.float64))
        if self.family == "mixed":
            return _mixed(raw, np.asarray(leak, dtype=np.float64), self.calcium_share)
        work = _WORKS.get(self.family)
        if work is not None:
            return work(raw, np.asarray(leak, dtype=np.float64))
        if self.medium is None:
            raise ValueError(f"no medium {self.family!r}")
        return self.medium.treated(raw)

    def leaks(self, rng: np.random.Generator, count: int) -> Floats:
        """So many shares leaked, of beds of this family."""
        ends = (self.leak.p05, self.leak.p05, self.leak.p50, self.leak.p95, self.leak.p95)
        return np.interp(rng.random(count), (0.0, 0.05, 0.5, 0.95, 1.0), ends)


def typical(family: str, medium: Medium | None) -> Behind:
    """The family with the leakage usual over tap waters."""
    return Behind(family=family, medium=medium, leak=TYPICAL.get(family, NO_LEAK))


def with_column(known: Behind, raw: Water) -> Behind:
    """The family with the leakage its column has with this (single) water, where it has one."""
    if not isinstance(known.medium, ExchangeMedium):
        return known
    leak = known.medium.leakage(raw)
    held = {n: float(np.clip(getattr(leak, n), 0.0, 0.95)) for n in ("p05", "p50", "p95")}
    found = msgspec.structs.replace(known, leak=Spread(**held))
    if known.family != "mixed":
        return found
    half = known.medium.treated(raw, MID_LIFE)
    share = float(np.ravel(half.ca_mmol_l / np.maximum(hardness_mmol_l_of(half), 1e-9))[0])
    return msgspec.structs.replace(found, calcium_share=float(np.clip(share, 0.0, 1.0)))


def _shares(source: Water) -> tuple[Floats, Floats]:
    """Calcium's and magnesium's share of hardness."""
    hardness = np.maximum(hardness_mmol_l_of(source), 1e-9)
    return source.ca_mmol_l / hardness, source.mg_mmol_l / hardness


def _sodium(raw: Water, leak: Floats) -> Water:
    kept = 1.0 - leak
    return calcium_and_magnesium_for_sodium(raw, kept * raw.ca_mmol_l, kept * raw.mg_mmol_l)


def _hydrogen(raw: Water, leak: Floats) -> Water:
    gone = carbonate_hardness_mmol_l(raw) * (1.0 - leak)
    ca, mg = _shares(raw)
    return calcium_and_magnesium_for_hydrogen(raw, gone * ca, gone * mg)


def _mixed(raw: Water, leak: Floats, calcium_share: float) -> Water:
    less = _hydrogen(raw, leak)
    swap = np.maximum(less.ca_mmol_l - calcium_share * hardness_mmol_l_of(less), 0.0)
    return calcium_for_magnesium(less, swap)


def _magnesium(raw: Water, leak: Floats) -> Water:
    return calcium_for_magnesium(raw, raw.ca_mmol_l * (1.0 - leak))


def tuned(known: Behind, raw: Water, hardness_mmol_l: float, alkalinity_meq_l: float) -> Behind:
    """The family with the bypass round its calcite bed set for this (single) water: alkalinity as
    aimed at, or more where hardness would stay below the least."""
    medium = known.medium
    if not isinstance(medium, RemineralisedMembrane):
        return known
    permeate = medium.permeate(raw)
    for_alkalinity = (alkalinity_meq_l - float(permeate.alkalinity_meq_l)) / 2
    for_hardness = hardness_mmol_l - float(hardness_mmol_l_of(permeate))
    wanted = float(np.clip(max(for_alkalinity, for_hardness), 0.0, MOST_MINERALS_MMOL_L))
    return msgspec.structs.replace(
        known, medium=msgspec.structs.replace(medium, minerals_mmol_l=wanted)
    )


def calcite_dissolved(raw: Water) -> Floats:
    """Calcite, mmol/L, that a bed of it gives: as much as free carbon dioxide allows."""
    return np.minimum(MOST_MINERALS_MMOL_L, co2_mmol_l(raw) + WITHOUT_CO2_MMOL_L)


def _membrane(medium: RemineralisedMembrane, raw: Water, short: Floats) -> Water:
    permeate = medium.permeate(raw)
    added = medium.treated(raw).ca_mmol_l - permeate.ca_mmol_l
    return _with_minerals(permeate, added * (1.0 - short))


def _with_minerals(raw: Water, added: Floats) -> Water:
    return changed(
        raw,
        ca_mmol_l=raw.ca_mmol_l + added,
        alkalinity_meq_l=raw.alkalinity_meq_l + 2 * added,
        dic_mmol_l=raw.dic_mmol_l + added,
    )


_WORKS: Final[dict[str, Callable[[Water, Floats], Water]]] = {
    "sodium": _sodium,
    "hydrogen": _hydrogen,
    "magnesium": _magnesium,
    REMINERALISE: lambda raw, short: _with_minerals(raw, calcite_dissolved(raw) * (1.0 - short)),
}


def puts_minerals_back(known: Behind) -> bool:
    """Whether the family has a calcite bed that is used up."""
    return known.family == REMINERALISE or isinstance(known.medium, RemineralisedMembrane)


def has_bypass(known: Behind) -> bool:
    """Whether raw water can be led round it to any purpose."""
    return isinstance(known.medium, ExchangeMedium | RemineralisedMembrane)
