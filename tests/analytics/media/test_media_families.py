"""Facts of each family that a person behind the bar would check."""

from __future__ import annotations

import numpy as np
import pytest

from analytics.chemistry.carbonate import ph
from analytics.chemistry.conductivity import ec25_us_cm
from analytics.chemistry.water import balanced, changed, hardness_mmol_l, water
from analytics.exchange_medium import ExchangeMedium
from analytics.media import media
from analytics.media.membrane import RemineralisedMembrane
from analytics.medium import EndsBy, Sharpener
from analytics.setup import CapacityKind
from tests.check_values.invented_waters import alkaline, fourteen

MEDIA = media()
CHALK = fourteen().at(8)
DH = 0.178326


def test_softening_adds_8_2_mg_of_sodium_a_degree() -> None:
    """20 dH fully softened gives 164.0 mg/L of sodium (8.19936 mg/L per dH; exact from masses)."""
    raw = water(ca=20 * DH, cl=2.0, alkalinity=40 * DH - 2.0)
    added = float(MEDIA["sodium"].treated(raw).na_mmol_l) * 22.98977

    assert added == pytest.approx(163.99, rel=1e-3)


@pytest.mark.parametrize(("degrees", "over"), [(20.0, False), (26.0, True)])
def test_the_sodium_limit_is_said_above_24_degrees(degrees: float, over: bool) -> None:
    """From water without sodium the limit of 200 mg/L is reached at 24.4 dH."""
    raw = water(ca=degrees * DH, cl=1.0, alkalinity=2 * degrees * DH - 1.0)
    codes = {each.code for each in MEDIA["sodium"].cautions(raw)}

    assert ("sodium-limit" in codes) is over


def test_hydrogen_leaves_permanent_hardness() -> None:
    """Permanent hardness stays, but for what sodium has not yet given way to (0.15 mmol/L);
    nearly all alkalinity goes (where it exceeds hardness, sodium lets some through early)."""
    raws = fourteen()
    fresh = MEDIA["hydrogen"].treated(raws)
    stays = hardness_mmol_l(raws) - raws.alkalinity_meq_l / 2
    gypsum = stays > 0.5

    np.testing.assert_allclose(hardness_mmol_l(fresh)[gypsum], stays[gypsum], atol=0.15)
    most = np.where(stays < 0.0, 0.10, 0.05)
    assert np.all(fresh.alkalinity_meq_l < most * raws.alkalinity_meq_l)


def test_hydrogen_water_is_sour() -> None:
    """pH behind a new bed is 4.3-6.5 for all fourteen waters, from the chemistry's own model."""
    found = ph(MEDIA["hydrogen"].treated(fourteen()))

    assert np.all((found > 4.3) & (found < 6.5))


def test_mixed_leaks_9_to_30_per_cent() -> None:
    """Fresh leakage of carbonate hardness lies at 9-30 % for all fourteen waters."""
    medium = MEDIA["mixed"]
    assert isinstance(medium, ExchangeMedium)
    leakage = medium.curves(fourteen()).leakage

    assert leakage.min() > 0.09
    assert leakage.max() < 0.30


def test_mixed_swaps_calcium_for_magnesium() -> None:
    """Fresh treated water holds magnesium and almost no calcium."""
    fresh = MEDIA["mixed"].treated(CHALK)

    assert float(fresh.ca_mmol_l) < 0.02 * float(CHALK.ca_mmol_l)
    assert float(fresh.mg_mmol_l) > 2.0 * float(CHALK.mg_mmol_l)


def test_magnesium_keeps_hardness_and_takes_calcium() -> None:
    """Once the first litres are past, total hardness is within 5 % of raw and calcium under 10 %,
    alkalinity untouched."""
    raws = fourteen()
    treated = MEDIA["magnesium"].treated(raws, 0.3)

    np.testing.assert_allclose(hardness_mmol_l(treated), hardness_mmol_l(raws), rtol=0.05)
    assert np.all(treated.ca_mmol_l < 0.1 * raws.ca_mmol_l)
    np.testing.assert_allclose(treated.alkalinity_meq_l, raws.alkalinity_meq_l, rtol=1e-9)


def test_sodium_first_is_said_only_where_alkalinity_exceeds_hardness() -> None:
    """Hydrogen and mixed media name it for those waters and no others."""
    for name in ("hydrogen", "mixed"):
        for place in (4, 8, 9, 12, 13):
            codes = {each.code for each in MEDIA[name].cautions(fourteen().at(place))}
            assert ("sodium-first" in codes) is bool(alkaline()[place])


def test_chloride_is_said_for_exchange_media_only() -> None:
    """60 mg/L of chloride stays behind an exchanger; a membrane takes it out."""
    salty = balanced(changed(CHALK, cl_mmol_l=1.7, na_mmol_l=1.5))
    named = {name for name in MEDIA if "chloride" in {c.code for c in MEDIA[name].cautions(salty)}}

    assert named == {"sodium", "hydrogen", "mixed", "magnesium"}


def test_membrane_holds_back_nine_tenths_and_more() -> None:
    """Permeate conducts 2-10 % of raw water."""
    membrane = MEDIA["membrane"]
    assert isinstance(membrane, RemineralisedMembrane)
    share = ec25_us_cm(membrane.permeate(fourteen())) / ec25_us_cm(fourteen())

    assert share.min() > 0.02
    assert share.max() < 0.10


def test_remineraliser_ends_by_falling() -> None:
    """At the end a fifth of the added calcite is missing; later all of it."""
    membrane = MEDIA["membrane"]
    assert isinstance(membrane, RemineralisedMembrane)
    bare = float(membrane.permeate(CHALK).ca_mmol_l)
    added = np.asarray(membrane.treated(CHALK, np.array([0.0, 1.0, 1.5])).ca_mmol_l) - bare

    assert membrane.ends_by is EndsBy.MINERALS_FALL
    assert added[1] == pytest.approx(0.8 * added[0], rel=2e-3)
    assert added[2] == pytest.approx(0.0, abs=1e-9)


def test_remineraliser_raises_ph() -> None:
    """Calcite takes up the CO2 that came through the membrane."""
    membrane = MEDIA["membrane"]
    assert isinstance(membrane, RemineralisedMembrane)

    assert float(ph(membrane.treated(CHALK))) > float(ph(membrane.permeate(CHALK))) + 0.5


@pytest.mark.parametrize("name", ["carbon", "polyphosphate"])
def test_these_leave_the_water_as_it_is(name: str) -> None:
    """No hardness taken, no contrast, ended by litres and months."""
    medium = MEDIA[name]

    assert float(medium.removable(CHALK, CapacityKind.TOTAL)) == 0.0
    assert medium.contrast(CHALK).rise_at_end_pct == 0.0
    assert medium.ends_by is EndsBy.LITRES_AND_MONTHS


@pytest.mark.parametrize(
    ("name", "test"),
    [
        ("sodium", Sharpener.TOTAL),
        ("hydrogen", Sharpener.ALKALINITY),
        ("mixed", Sharpener.ALKALINITY),
        ("magnesium", Sharpener.CALCIUM),
    ],
)
def test_the_drop_test_that_sharpens_follows_the_capacity(name: str, test: Sharpener) -> None:
    """The titration that moves most over the medium's life is the one named."""
    medium = MEDIA[name]
    new, spent = (medium.treated(CHALK, share) for share in (0.1, 1.2))
    moves = {
        Sharpener.TOTAL: float(hardness_mmol_l(spent) - hardness_mmol_l(new)),
        Sharpener.ALKALINITY: float(spent.alkalinity_meq_l - new.alkalinity_meq_l) / 2,
        Sharpener.CALCIUM: float(spent.ca_mmol_l - new.ca_mmol_l),
    }

    assert medium.sharpened_by is test
    assert moves[test] > 0.8 * max(moves.values())
