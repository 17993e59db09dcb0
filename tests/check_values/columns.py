"""The exchange column: PHREEQC's example 11, and beads at rest with a hard water.

Example 11 (Parkhurst & Appelo 2013, USGS TM 6-A43): 40 cells, 1.1 mmol of sites per kg of pore
water, Na 1.0 and K 0.2 mmol/kgw displaced by Ca 0.6 mmol/kgw; 100 shifts. Values are those of
ex11adv.sel and ex11trn.sel in the USGS distribution.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from functools import cache, partial

import msgspec
import numpy as np

from analytics.chemistry.water import WATER_KG_PER_L
from analytics.column.bed import Bed, feed, leaving, new_bed, pass_parcel
from analytics.column.exchanger import HELD, VALENCE, Exchanger, sites
from analytics.samples import Floats
from tests.check_values.checks import Check, Kind
from tests.check_values.tap_waters import FOUR

CELLS = 40
SHIFTS = 100
SITES_MEQ = 1.1
POINT_ONE_PER_MILLE = 1e-4
NO_CARBON = np.array([1e-6])
NONE = np.array([0.0])
CALCIUM = feed(np.array([[0.6], [0.0], [0.0], [0.0]]), np.array([1.2]), NO_CARBON, NONE)
SODIUM_AND_POTASSIUM = feed(
    np.array([[0.0], [0.0], [1.0], [0.2]]), np.array([1.2]), NO_CARBON, NONE
)
PUBLISHED_ADVECTION = (
    (60, "na", 0.88947),
    (60, "k", 0.31053),
    (61, "na", 0.65396),
    (62, "na", 0.31876),
    (70, "k", 1.2000),
    (75, "ca", 5.4946e-3),
    (76, "ca", 0.24753),
    (77, "ca", 0.55196),
    (80, "ca", 0.59996),
    (100, "ca", 0.60000),
)
PUBLISHED_TRANSPORT = (
    (40, "na", 0.999641),
    (40, "k", 0.200359),
    (50, "na", 0.968996),
    (50, "k", 0.231004),
    (60, "na", 0.541071),
    (60, "k", 0.658929),
    (73, "ca", 0.0541903),
    (74, "ca", 0.207209),
    (76, "ca", 0.383902),
    (80, "ca", 0.522571),
    (100, "ca", 0.599188),
)


def _at_the_start(rounds: int, exchange: float) -> Bed:
    bed = new_bed(
        sites([Exchanger()]),
        SODIUM_AND_POTASSIUM,
        np.array([SITES_MEQ]),
        CELLS,
        rounds=rounds,
        exchange=exchange,
    )
    na = SITES_MEQ / (1.0 + 10**0.7 * 0.2)
    held = np.zeros((4, 1, CELLS))
    held[2], held[3] = na, SITES_MEQ - na
    return msgspec.structs.replace(bed, on_beads=held)


def _effluent(bed: Bed) -> Floats:
    rows = []
    for _ in range(SHIFTS):
        bed = pass_parcel(bed, CALCIUM)
        rows.append(leaving(bed)[:, 0])
    return np.array(rows)


@cache
def advection() -> Floats:
    """Effluent of each shift without mixing, mmol/kgw, in the order of `HELD`."""
    return _effluent(_at_the_start(0, 0.0))


@cache
def transport() -> Floats:
    """The same with a dispersivity of one cell, both ends open for flow only: PHREEQC makes of it
    four rounds of mixing a shift, the end correction 1 + 2/40 included."""
    return _effluent(_at_the_start(4, (1.0 + 2.0 / CELLS) / 4))


def calcium_front() -> float:
    """Pore volumes at which half of the calcium is through, without mixing."""
    pore_volumes = (np.arange(SHIFTS) + 1.0) / CELLS
    return float(np.interp(0.3, advection()[:, 0], pore_volumes))


def _left(history: Callable[[], Floats], step: int, ion: str) -> float:
    return float(history()[step - 1, HELD.index(ion)])


@cache
def _beads_with_hard_chalk_water() -> Floats:
    """Equivalent shares on strong-acid beads that the hard chalk water no longer changes."""
    _, raw = FOUR["W3 hard chalk"]
    amounts = (raw.ca_mmol_l, raw.mg_mmol_l, raw.na_mmol_l, raw.k_mmol_l)
    cations = np.array([[float(a)] for a in amounts]) / WATER_KG_PER_L
    anions = np.array([float(raw.cl_mmol_l + raw.no3_mmol_l + 2 * raw.so4_mmol_l)])
    sulphate = np.array([float(raw.so4_mmol_l)])
    entering = feed(cations, anions / WATER_KG_PER_L, NO_CARBON, sulphate)
    bed = new_bed(sites([Exchanger()]), entering, np.array([5.0]), 1)
    for _ in range(60):
        bed = pass_parcel(bed, entering)
    held = bed.on_beads[:, 0, 0] * VALENCE
    shares: Floats = held / held.sum()
    return shares


def _example(
    group: str, wanted: Iterable[tuple[int, str, float]], history: Callable[[], Floats], source: str
) -> Iterator[Check]:
    for step, ion, mmol in wanted:
        yield Check(
            group=group,
            what=f"{ion} after {step} shifts, mmol/kgw",
            expected=mmol,
            ours=partial(_left, history, step, ion),
            tolerance=POINT_ONE_PER_MILLE,
            relative=True,
            source=source,
            kind=Kind.PUBLISHED,
        )


def rows() -> Iterator[Check]:
    """Every check of the column."""
    yield from _example(
        "example 11 without mixing", PUBLISHED_ADVECTION, advection, "USGS ex11adv.sel"
    )
    yield from _example(
        "example 11 with dispersion", PUBLISHED_TRANSPORT, transport, "USGS ex11trn.sel"
    )
    yield Check(
        group="example 11 without mixing",
        what="pore volumes to half of the calcium",
        expected=1.0 + SITES_MEQ / 1.2,
        ours=calcium_front,
        tolerance=1.0 / CELLS,
        source="stoichiometry; a cell is 1/40",
        kind=Kind.COMPUTED,
    )
    for place, (ion, share) in enumerate(
        (("Ca", 0.9482), ("Mg", 0.0434), ("Na", 0.00456), ("K", 0.00382))
    ):
        yield Check(
            group="beads at rest with hard chalk water",
            what=f"share of {ion}",
            expected=share,
            ours=lambda at=place: float(_beads_with_hard_chalk_water()[at]),
            tolerance=0.0005,
            source="PHREEQC 3.7.3, its phreeqc.dat",
            kind=Kind.COMPUTED,
        )
