"""A parcel and its slice of bed: conservation, charge, and answers for any water."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analytics.chemistry.water import per_kg_water
from analytics.column.bed import feed, new_bed, pass_parcel, rinse
from analytics.column.carbonate import alkalinity, davies, hydrogen, ph
from analytics.column.equilibrium import Parcel, settle
from analytics.column.exchanger import VALENCE, Exchanger, sites
from analytics.column.life import feed_of
from analytics.samples import Floats

STRONG = Exchanger()
WEAK = Exchanger(log_k_h=4.25, start_ca=0.02)
SPREAD_WEAK = Exchanger(log_k_h=4.25, start_ca=0.02, h_spread=1.5)
AMOUNT = st.one_of(st.just(0.0), st.floats(0.01, 20.0))


def _parcel(total: list[float], capacity: float, strong: float, dic: float) -> Parcel:
    column = np.array(total)[:, None]
    return Parcel(
        total=column,
        capacity_meq=np.array([capacity]),
        strong_anions_meq=np.array([strong]),
        dic_mmol=np.array([dic]),
        gamma=davies(np.array([0.01])),
    )


def _closure(exchanger: Exchanger, parcel: Parcel) -> tuple[float, float]:
    """Share of the sites that is filled, and charge left over in the water, meq/L."""
    one = sites([exchanger])
    found = settle(one, parcel, np.array([-4.0]), np.array([-8.0]))
    site = np.exp(found.log_site)
    pull = one.binding * np.stack((site * site, site * site, site, site))
    filled = (pull * found.dissolved).sum(axis=0)
    charge = (VALENCE[:, None] * found.dissolved).sum(axis=0) - parcel.strong_anions_meq
    if exchanger.log_k_h is None:
        return float(filled[0]), 0.0
    h = np.exp(found.log_h)
    binding = one.h_binding * np.exp(one.h_spread * (filled - 0.5))
    spare = alkalinity(h, parcel.dic_mmol, parcel.gamma)[0] - charge
    return float((filled + binding * h * site)[0]), float(spare[0])


@given(st.lists(AMOUNT, min_size=4, max_size=4), st.floats(0.1, 60.0))
def test_strong_acid_sites_are_filled_exactly(total: list[float], capacity: float) -> None:
    """Equivalent shares sum to 1 wherever the parcel brings enough cations to fill the sites."""
    needed = capacity * 1.01
    charge = float((VALENCE * np.array(total)).sum())
    total[2] += max(needed - charge, 0.0)
    filled, _ = _closure(STRONG, _parcel(total, capacity, 1.0, 1.0))

    assert filled == pytest.approx(1.0, abs=1e-7)


@pytest.mark.parametrize("exchanger", [WEAK, SPREAD_WEAK], ids=["one pK", "spread pK"])
@given(
    total=st.lists(AMOUNT, min_size=4, max_size=4),
    capacity=st.floats(0.1, 60.0),
    strong=st.floats(0.0, 10.0),
    dic=st.floats(0.01, 20.0),
)
def test_weak_acid_sites_and_charges_close(
    exchanger: Exchanger, total: list[float], capacity: float, strong: float, dic: float
) -> None:
    """Shares with hydrogen sum to 1 and alkalinity equals cations less strong anions."""
    filled, spare = _closure(exchanger, _parcel(total, capacity, strong, dic))

    assert filled == pytest.approx(1.0, abs=1e-7)
    assert spare == pytest.approx(0.0, abs=1e-6)


@pytest.mark.parametrize("exchanger", [STRONG, WEAK], ids=["strong", "weak"])
def test_a_hopeless_start_finds_the_same_rest(exchanger: Exchanger) -> None:
    """From start values a hundred powers of e away the answer is the same."""
    parcel = _parcel([1.0, 0.5, 14.0, 0.2], 12.0, 2.0, 4.0)
    near = settle(sites([exchanger]), parcel, np.array([-4.0]), np.array([-8.0]))
    far = settle(sites([exchanger]), parcel, np.array([100.0]), np.array([90.0]))

    np.testing.assert_allclose(far.dissolved, near.dissolved, rtol=1e-6)


def test_exchanger_in_equilibrium_with_chalk_water() -> None:
    """Equivalent shares over a hard chalk water are Ca 0.9495, Mg 0.0422, Na 0.0045, K 0.0038.

    PHREEQC 3.8.6, phreeqc.dat. Ours knows no ion pairs: 0.002 is allowed.
    """
    raw = feed_of(
        per_kg_water(ca=2.75, mg=0.20, na=0.60, k=0.10, cl=0.80, so4=0.30, no3=0.40, alkalinity=4.8)
    )
    bed = new_bed(sites([STRONG]), raw, np.array([1.2]), 1)
    for _ in range(60):
        bed = pass_parcel(bed, raw)
    shares = bed.on_beads[:, 0, 0] * VALENCE / 1.2

    np.testing.assert_allclose(shares, (0.9495, 0.0422, 0.00449, 0.00376), atol=0.002)


@pytest.mark.parametrize("exchanger", [STRONG, WEAK], ids=["strong", "weak"])
def test_what_went_in_is_on_the_beads_or_came_out(exchanger: Exchanger) -> None:
    """Every cation is conserved over a life to 1e-9 of what was fed."""
    one = sites([exchanger])
    raw = feed_of(per_kg_water(ca=1.25, mg=0.4, na=0.6, k=0.05, cl=0.75, so4=0.35, alkalinity=2.5))
    bed = new_bed(one, rinse(one, raw), np.array([12.0]), 10)
    held = _held(bed.on_beads, bed.water)
    out, fed = np.zeros(4), np.zeros(4)
    for _ in range(150):
        out += bed.water[:, 0, -1]
        fed += raw.cations[:, 0]
        bed = pass_parcel(bed, raw)

    np.testing.assert_allclose(held + fed - out, _held(bed.on_beads, bed.water), atol=1e-7)


def _held(on_beads: Floats, pores: Floats) -> Floats:
    result: Floats = (on_beads + pores).sum(axis=(1, 2))
    return result


@given(st.floats(-5.0, 15.0), st.floats(0.001, 20.0), st.floats(0.0, 0.1))
def test_hydrogen_gives_back_the_alkalinity(meq: float, dic: float, strength: float) -> None:
    """Hydrogen found for an alkalinity has that alkalinity."""
    gamma = davies(np.array([strength]))
    h = hydrogen(np.array([meq]), np.array([dic]), gamma)

    assert alkalinity(h, np.array([dic]), gamma)[0][0] == pytest.approx(meq, abs=1e-6)


def test_ph_of_half_neutralised_carbonic_acid_is_pk1() -> None:
    """With half of the carbon as bicarbonate in thin water pH is pK1 = 6.352.

    Plummer & Busenberg, Geochim. Cosmochim. Acta 46 (1982) 1011.
    """
    found = ph(np.array([0.5]), np.array([1.0]), np.array([1.0]))

    assert found[0] == pytest.approx(6.352, abs=0.002)


def test_strong_and_weak_do_not_stand_side_by_side() -> None:
    """One column run is for one kind of exchanger."""
    with pytest.raises(ValueError, match="not both"):
        sites([STRONG, WEAK])


def test_a_bed_cannot_hold_more_than_its_sites() -> None:
    """Start shares above 1 are refused."""
    with pytest.raises(ValueError, match="more than its sites"):
        sites([Exchanger(start_ca=0.5, start_mg=0.6)])


def test_feed_closes_its_charge() -> None:
    """Alkalinity of a feed is its cations less its strong anions."""
    made = feed(
        np.array([[1.0], [0.5], [0.4], [0.1]]), np.array([1.0]), np.array([2.5]), np.array([0.2])
    )

    assert made.alkalinity_meq[0] == pytest.approx(2.5)
