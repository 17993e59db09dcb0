"""The conductivity front end on virtual cells: true values, ranges, no charge, no cross-talk.

Expected conductivity is 1 / cell resistance at a cell constant of 1 per cm.
"""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firmware_bridge.firmware import kinds
from firmware_bridge.firmware.cells import Cells
from firmware_bridge.firmware.parts import INLET, OUTLET
from firmware_bridge.virtual.board import Moments, VirtualFront


def front_end(**set_to: object) -> tuple[Cells, VirtualFront]:
    """Both probes on a virtual board."""
    front = VirtualFront(Moments())
    for name, value in set_to.items():
        setattr(front, name, value)
    return Cells(front), front


@pytest.mark.parametrize("us_cm", [5.0, 20.0, 84.0, 250.0, 650.5, 1413.0, 5000.0, 12_880.0])
def test_true_conductivity_over_all_ranges(us_cm: float) -> None:
    """From permeate to brackish water the reading is within half a percent."""
    cells, _ = front_end(cell_ohm=[round(1e6 / us_cm), 1200])

    value, state = cells.read(OUTLET)

    assert value is not None
    assert value / 100 == pytest.approx(us_cm, rel=5e-3)
    assert state == kinds.GOOD


@given(st.integers(60, 300_000), st.integers(-400, 400), st.integers(0, 300))
def test_offset_of_the_adc_drops_out(ohm: int, offset: int, noise: int) -> None:
    """An ADC that is off by a constant reads the same water, as long as it does not clip."""
    cells, _ = front_end(cell_ohm=[ohm, 1200], offset=offset, noise=noise)

    value, state = cells.read(OUTLET)

    assert state == kinds.GOOD
    assert value == pytest.approx(1e8 / ohm, rel=0.05)


def test_no_charge_is_left_on_the_electrodes() -> None:
    """Drive goes as long one way as the other, and then lets go of both probes."""
    cells, front = front_end()

    cells.read(OUTLET)
    cells.read(INLET)

    assert front.charge_us == [0, 0]
    assert front.driven == [(-1, 0), (-1, 0)]


def test_two_probes_in_one_pipe_do_not_read_each_other() -> None:
    """Read in turn each probe reads its own water, though water joins them; driven at once they
    would not."""
    cells, front = front_end(cell_ohm=[2000, 1000])

    in_turn = [cells.read(OUTLET)[0], cells.read(INLET)[0]]
    front.drive(INLET, 1, 1)
    at_once = front.sample(OUTLET), (front.drive(OUTLET, 1, 1), front.sample(OUTLET))[1]
    front.release()
    front.drive(OUTLET, 1, 1)
    alone = front.sample(OUTLET)

    assert in_turn == [pytest.approx(50_000, rel=5e-3), pytest.approx(100_000, rel=5e-3)]
    assert at_once[1] < 0.9 * alone


def test_the_range_stays_where_it_is_good() -> None:
    """A cell that moves round the edge of a range does not make the range jump."""
    cells, front = front_end(cell_ohm=[19_000, 1200])
    jumps = []
    for ohm in (19_000, 21_000, 19_500, 20_500, 18_000):
        front.cell_ohm[OUTLET] = ohm
        cells.read(OUTLET)
        jumps.append(cells.in_range(OUTLET))

    assert len(set(jumps[1:])) == 1


@pytest.mark.parametrize("place", [1, 2, 3])
def test_a_fixed_range_is_used(place: int) -> None:
    """With a range set, it is the one used, and still reads true where it can."""
    cells, _ = front_end(cell_ohm=[2000, 1200])
    cells.fixed_range = place

    value, _ = cells.read(OUTLET)

    assert value == pytest.approx(50_000, rel=0.01)


@pytest.mark.parametrize(
    ("set_to", "state"),
    [
        ({"cell_ohm": [10**9, 1200]}, kinds.LOW),
        ({"cell_ohm": [1, 1200]}, kinds.HIGH),
        ({"stuck": [20_000, -1]}, kinds.FAULT),
        ({"stuck": [0, -1]}, kinds.FAULT),
        ({"stuck": [65_535, -1]}, kinds.FAULT),
        ({"stray": 9_000}, kinds.FAULT),
        ({"noise": 4_000}, kinds.DOUBTFUL),
        ({}, kinds.GOOD),
    ],
)
def test_dry_short_broken_and_bubbles_are_told_apart(set_to: dict[str, object], state: int) -> None:
    """Dry, shorted, an ADC that is stuck, a current from elsewhere, a restless cell."""
    cells, _ = front_end(**set_to)

    assert cells.read(OUTLET)[1] == state


@pytest.mark.parametrize("stuck", [0, 30_000, 32_768, 65_535])
def test_the_self_test_names_the_probe(stuck: int) -> None:
    """An ADC that is stuck is named, even where it looks like water; the other probe is well."""
    cells, front = front_end()
    sound = cells.check()
    front.stuck[INLET] = stuck

    assert sound == ""
    assert "inlet" in cells.check()


def test_one_probe_alone() -> None:
    """Where there is one probe, the other reads nothing and nothing is held against it."""
    cells, _ = front_end(stuck=[-1, 5])
    cells.probes = 1

    assert cells.read(INLET) == (None, kinds.NO_READING)
    assert cells.check() == ""
