"""Cells in series: water moves on cell by cell and settles with the beads it meets.

The bed is `cells` slices of equal capacity. A parcel of water enters the first, and all parcels
move one slice on with each step (so every slice works on its own parcel at once, which is what
makes it fast). More cells, sharper front. Between steps neighbouring parcels may be mixed, which
is dispersion as PHREEQC's TRANSPORT has it; without mixing it is PHREEQC's ADVECTION.
"""

from __future__ import annotations

import msgspec
import numpy as np

from analytics.column.carbonate import davies
from analytics.column.equilibrium import Parcel, settle
from analytics.column.exchanger import VALENCE, Sites
from analytics.samples import Floats


class Feed(msgspec.Struct, frozen=True, kw_only=True, eq=False):
    """Water as the bed meets it, a column a variant: cations in the order of `HELD`, mmol/L.

    Strong anions are chloride, nitrate and sulphate in meq/L; alkalinity is what the cations
    leave over, so charges always close.
    """

    cations: Floats
    strong_anions_meq: Floats
    dic_mmol: Floats
    gamma: Floats

    @property
    def alkalinity_meq(self) -> Floats:
        """Alkalinity: cations less strong anions, meq/L."""
        result: Floats = np.tensordot(VALENCE, self.cations, axes=1) - self.strong_anions_meq
        return result


def feed(
    cations: Floats, strong_anions_meq: Floats, dic_mmol: Floats, sulphate_mmol: Floats
) -> Feed:
    """A feed with its activity coefficient; sulphate is counted in the strong anions as well."""
    squares = np.tensordot(VALENCE * VALENCE, cations, axes=1)
    alkalinity = np.tensordot(VALENCE, cations, axes=1) - strong_anions_meq
    strength = 0.5 * (squares + strong_anions_meq + 2.0 * sulphate_mmol + np.abs(alkalinity))
    return Feed(
        cations=cations,
        strong_anions_meq=strong_anions_meq,
        dic_mmol=dic_mmol,
        gamma=davies(strength / 1e3),
    )


def rinse(sites: Sites, entering: Feed) -> Feed:
    """What stands in the pores of a rinsed new bed, so that the first parcel of the feed is the
    first that the bed works on.

    Behind a strong-acid exchanger it is the feed's anions with the bed's own cations. Behind a
    weak-acid one no alkalinity is left; strong anions keep the feed's sodium and, beyond that,
    calcium and magnesium in the beads' proportion (the feed's, where the beads hold neither).
    """
    if not sites.weak:
        charge = entering.strong_anions_meq + entering.alkalinity_meq
        return msgspec.structs.replace(entering, cations=charge * sites.start / VALENCE[:, None])
    sodium = np.minimum(entering.cations[2], entering.strong_anions_meq)
    hard = np.where(sites.start[:2].sum(axis=0) > 0.0, sites.start[:2], entering.cations[:2])
    hard = hard / np.maximum(hard.sum(axis=0), 1e-300)
    divalent = 0.5 * (entering.strong_anions_meq - sodium) * hard
    salt = np.stack((divalent[0], divalent[1], sodium, np.zeros_like(sodium)))
    return msgspec.structs.replace(entering, cations=salt)


class Bed(msgspec.Struct, frozen=True, kw_only=True, eq=False):
    """State of `cells` slices for each variant; arrays are (ion,) variant, cell.

    `capacity_meq` is what one slice holds, per litre of parcel. `rounds` and `exchange` say how
    often and how strongly neighbouring parcels mix in a step.
    """

    sites: Sites
    capacity_meq: Floats
    on_beads: Floats
    water: Floats
    strong_anions_meq: Floats
    dic_mmol: Floats
    gamma: Floats
    log_site: Floats
    log_h: Floats
    rounds: int = 0
    exchange: float = 0.0


def new_bed(
    sites: Sites,
    first: Feed,
    capacity_meq: Floats,
    cells: int,
    *,
    rounds: int = 0,
    exchange: float = 0.0,
) -> Bed:
    """A bed as the maker left it, its pores filled with `first`."""
    wide = (len(capacity_meq), cells)
    spread = _side_by_side(sites)
    capacity = capacity_meq[:, None]
    held = spread.start * capacity / VALENCE[:, None, None]
    return Bed(
        sites=spread,
        capacity_meq=capacity,
        on_beads=np.broadcast_to(held, (4, *wide)).copy(),
        water=np.broadcast_to(first.cations[:, :, None], (4, *wide)).copy(),
        strong_anions_meq=np.broadcast_to(first.strong_anions_meq[:, None], wide).copy(),
        dic_mmol=np.broadcast_to(first.dic_mmol[:, None], wide).copy(),
        gamma=np.broadcast_to(first.gamma[:, None], wide).copy(),
        log_site=np.full(wide, -4.0),
        log_h=np.full(wide, -8.0),
        rounds=rounds,
        exchange=exchange,
    )


def _side_by_side(sites: Sites) -> Sites:
    return Sites(
        binding=sites.binding[:, :, None],
        h_binding=sites.h_binding[:, None],
        h_spread=sites.h_spread[:, None],
        start=sites.start[:, :, None],
    )


def pass_parcel(bed: Bed, entering: Feed) -> Bed:
    """One parcel enters, every parcel moves one slice on and settles; the last one has left."""
    moved = msgspec.structs.replace(
        bed,
        water=_shifted(bed.water, entering.cations),
        strong_anions_meq=_shifted(bed.strong_anions_meq, entering.strong_anions_meq),
        dic_mmol=_shifted(bed.dic_mmol, entering.dic_mmol),
        gamma=_shifted(bed.gamma, entering.gamma),
    )
    moved = _settled(moved)
    for _ in range(bed.rounds):
        moved = _settled(_mixed(moved))
    return moved


def _shifted(column: Floats, entering: Floats) -> Floats:
    return np.concatenate((entering[..., None], column[..., :-1]), axis=-1)


def _mixed(bed: Bed) -> Bed:
    """Neighbouring parcels exchange a share of their water; nothing passes the two ends."""
    return msgspec.structs.replace(
        bed,
        water=_blurred(bed.water, bed.exchange),
        strong_anions_meq=_blurred(bed.strong_anions_meq, bed.exchange),
        dic_mmol=_blurred(bed.dic_mmol, bed.exchange),
    )


def _blurred(column: Floats, exchange: float) -> Floats:
    flow = exchange * np.diff(column, axis=-1)
    result = column.copy()
    result[..., :-1] += flow
    result[..., 1:] -= flow
    return result


def _settled(bed: Bed) -> Bed:
    parcel = Parcel(
        total=bed.water + bed.on_beads,
        capacity_meq=bed.capacity_meq,
        strong_anions_meq=bed.strong_anions_meq,
        dic_mmol=bed.dic_mmol,
        gamma=bed.gamma,
    )
    balance = settle(bed.sites, parcel, bed.log_site, bed.log_h)
    return msgspec.structs.replace(
        bed,
        water=balance.dissolved,
        on_beads=parcel.total - balance.dissolved,
        log_site=balance.log_site,
        log_h=balance.log_h,
    )


def leaving(bed: Bed) -> Floats:
    """Cations of the parcel in the last slice, the next to leave: (ion, variant), mmol/L."""
    return bed.water[..., -1]


class Effluent(msgspec.Struct, frozen=True, kw_only=True, eq=False):
    """What left the bed, parcel by parcel; row i is the parcel that entered i-th.

    `cations` is (parcel, ion, variant), mmol/L.
    """

    cations: Floats


def run(bed: Bed, entering: Feed, parcels: int) -> Effluent:
    """The first `parcels` parcels of a constant feed, as they leave. No parcel is lost track of:
    the bed is run on until the last has come through."""
    cells = bed.water.shape[-1]
    rows = []
    for step in range(parcels + cells - 1):
        bed = pass_parcel(bed, entering)
        if step >= cells - 1:
            rows.append(leaving(bed))
    return Effluent(cations=np.stack(rows))
