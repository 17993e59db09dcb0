"""One life of a bed under one water: what leaves it, parcel by parcel, from fresh to spent.

Lives are counted in equivalents of the hardness the medium works on, fed to the bed, as a share
of the bed's sites. Several beds and waters run side by side, a column each.
"""

from __future__ import annotations

from typing import Final

import msgspec
import numpy as np

from analytics.chemistry.water import Water, balanced, stacked
from analytics.column.bed import Bed, Effluent, Feed, feed, new_bed, rinse, run
from analytics.column.exchanger import VALENCE, Sites
from analytics.samples import Floats
from analytics.setup import CapacityKind

CELLS: Final = 16
"""Equilibrium stages of a cartridge's bed: a few decimetres of beads at the flow of a machine
(common practice, no source). The spread of a real front comes on top, from its streams."""
PARCELS_A_CELL: Final = 6
"""Parcels of raw water that fill one slice: twice as many move no end of capacity by 2 %."""
LIVES: Final = 2.2
LEAST_MEQ: Final = 0.02
"""A water with less than this of what the bed takes has no end of capacity worth counting."""


class Life(msgspec.Struct, frozen=True, kw_only=True, eq=False):
    """What left each bed. `fed[i]` equivalents of the kind fed per equivalent of sites, in the
    middle of parcel i; `cations` (parcel, ion, variant) in mmol/L; the feed as it came."""

    fed: Floats
    cations: Floats
    entering: Feed


def feed_of(raw: Water) -> Feed:
    """Raw water as the column sees it, charges closed, one variant a column."""
    even = balanced(raw)
    shape = np.atleast_1d(np.zeros(even.shape)).shape
    ca, mg, na, k, cl, so4, no3, _, dic = (np.broadcast_to(row, shape) for row in stacked(even))
    return feed(np.stack((ca, mg, na, k)), cl + 2.0 * so4 + no3, dic, so4)


def kind_meq_l(cations: Floats, alkalinity_meq_l: Floats, kind: CapacityKind) -> Floats:
    """Hardness of a kind in meq/L; `cations` has its ions in the second axis from the end.

    Carbonate hardness is min(total hardness, alkalinity), and 0 where no alkalinity is left.
    """
    calcium = 2.0 * cations[..., 0, :]
    total = calcium + 2.0 * cations[..., 1, :]
    if kind is CapacityKind.CALCIUM:
        return calcium
    if kind is CapacityKind.CARBONATE:
        return np.minimum(total, np.maximum(alkalinity_meq_l, 0.0))
    return total


def alkalinity_meq_l(cations: Floats, entering: Feed) -> Floats:
    """Alkalinity of the water that left: its cations less the strong anions that came."""
    charge = np.tensordot(cations, VALENCE, axes=([-2], [0]))
    result: Floats = charge - entering.strong_anions_meq
    return result


def live(sites: Sites, raw: Water, kind: CapacityKind, *, cells: int = CELLS) -> Life:
    """Run each bed to well past its end with its own water, unchanging."""
    entering = feed_of(raw)
    entering, sites = _alike(entering, sites)
    kind_meq = _fed_meq(entering, kind)
    capacity = PARCELS_A_CELL * _taken_meq(entering, sites, kind_meq)
    parcels = int(LIVES * cells * PARCELS_A_CELL)
    effluent = _run(sites, entering, capacity, cells, parcels)
    per_parcel = kind_meq / (capacity * cells)
    return Life(
        fed=(np.arange(parcels)[:, None] + 0.5) * per_parcel,
        cations=effluent.cations,
        entering=entering,
    )


def _alike(entering: Feed, sites: Sites) -> tuple[Feed, Sites]:
    """Feed and sites with one number of variants, a single one standing for all."""
    count = max(entering.dic_mmol.shape[0], sites.h_binding.shape[0])
    wide = {n: _widened(getattr(entering, n), count) for n in Feed.__struct_fields__}
    tall = {n: _widened(getattr(sites, n), count) for n in Sites.__struct_fields__}
    return Feed(**wide), Sites(**tall)


def _widened(column: Floats, count: int) -> Floats:
    return np.broadcast_to(column, (*column.shape[:-1], count))


def _fed_meq(entering: Feed, kind: CapacityKind) -> Floats:
    meq: Floats = kind_meq_l(entering.cations, entering.alkalinity_meq, kind)
    return np.maximum(meq, LEAST_MEQ)


def _taken_meq(entering: Feed, sites: Sites, kind_meq: Floats) -> Floats:
    """Roughly what loads the sites per litre, raised by the share of them that is not at work, so
    that each variant's life takes about the same number of parcels."""
    if not sites.weak:
        return kind_meq
    at_work: Floats = np.maximum(1.0 - sites.start.sum(axis=0), 0.05)
    return np.maximum(entering.alkalinity_meq, kind_meq) / at_work


def _run(sites: Sites, entering: Feed, capacity: Floats, cells: int, parcels: int) -> Effluent:
    bed: Bed = new_bed(sites, rinse(sites, entering), capacity, cells)
    return run(bed, entering, parcels)
