"""The column against PHREEQC's example 11 (Parkhurst & Appelo 2013, USGS TM 6-A43, ex. 11).

Values: ex11adv.sel and ex11trn.sel of the USGS distribution, the same from PHREEQC 3.8.6 with
phreeqc.dat. 40 cells, 1.1 mmol sites per kg of pore water, Na 1.0 and K 0.2 mmol displaced by
Ca 0.6 mmol; 100 shifts.
"""

from __future__ import annotations

import msgspec
import numpy as np
import pytest

from analytics.column.bed import Bed, feed, leaving, new_bed, pass_parcel
from analytics.column.exchanger import Exchanger, sites
from analytics.samples import Floats

CELLS = 40
NO_CARBON = np.array([1e-6])
NONE = np.array([0.0])
CA_FEED = feed(np.array([[0.6], [0.0], [0.0], [0.0]]), np.array([1.2]), NO_CARBON, NONE)
NA_K_FIRST = feed(np.array([[0.0], [0.0], [1.0], [0.2]]), np.array([1.2]), NO_CARBON, NONE)


def _column(rounds: int = 0, exchange: float = 0.0) -> Bed:
    bed = new_bed(
        sites([Exchanger()]),
        NA_K_FIRST,
        np.array([1.1]),
        CELLS,
        rounds=rounds,
        exchange=exchange,
    )
    na = 1.1 / (1.0 + 10**0.7 * 0.2)
    held = np.zeros((4, 1, CELLS))
    held[2], held[3] = na, 1.1 - na
    return msgspec.structs.replace(bed, on_beads=held)


def _history(bed: Bed) -> Floats:
    rows = []
    for _ in range(100):
        bed = pass_parcel(bed, CA_FEED)
        rows.append(leaving(bed)[:, 0])
    return np.array(rows)


@pytest.fixture(scope="module")
def advection() -> Floats:
    return _history(_column())


@pytest.fixture(scope="module")
def transport() -> Floats:
    """Dispersivity of one cell length, both ends open for flow only: PHREEQC makes of it four
    rounds of mixing a shift, the end correction 1 + 2/40 included."""
    return _history(_column(rounds=4, exchange=(1.0 + 2.0 / CELLS) / 4))


@pytest.mark.parametrize(
    ("step", "ion", "mmol"),
    [
        (60, 2, 0.88947),
        (60, 3, 0.31053),
        (61, 2, 0.65396),
        (62, 2, 0.31876),
        (70, 3, 1.2000),
        (75, 0, 5.4946e-3),
        (76, 0, 0.24753),
        (77, 0, 0.55196),
        (80, 0, 0.59996),
        (100, 0, 0.60000),
    ],
)
def test_advection_gives_the_published_values(
    advection: Floats, step: int, ion: int, mmol: float
) -> None:
    """Without mixing the column is ex11adv.sel to 1e-4."""
    assert advection[step - 1, ion] == pytest.approx(mmol, rel=1e-4)


@pytest.mark.parametrize(
    ("step", "ion", "mmol"),
    [
        (40, 2, 0.999641),
        (40, 3, 0.200359),
        (50, 2, 0.968996),
        (50, 3, 0.231004),
        (60, 2, 0.541071),
        (60, 3, 0.658929),
        (73, 0, 0.0541903),
        (74, 0, 0.207209),
        (76, 0, 0.383902),
        (80, 0, 0.522571),
        (100, 0, 0.599188),
    ],
)
def test_transport_gives_the_published_values(
    transport: Floats, step: int, ion: int, mmol: float
) -> None:
    """With mixing the column is ex11trn.sel to 1e-4."""
    assert transport[step - 1, ion] == pytest.approx(mmol, rel=1e-4)


def test_calcium_front_stands_where_stoichiometry_puts_it(advection: Floats) -> None:
    """Half of the calcium is through after 1 + 1.1/1.2 pore volumes."""
    pore_volumes = (np.arange(100) + 1.0) / CELLS
    half = np.interp(0.3, advection[:, 0], pore_volumes)

    assert half == pytest.approx(1.0 + 1.1 / 1.2, abs=1.0 / CELLS)
