"""What every medium keeps to, whatever the water. A new file in `media` is tested by existing."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analytics.chemistry.water import (
    FIELDS,
    Water,
    balanced,
    cations_meq_l,
    charge_surplus_meq_l,
    stacked,
    water,
)
from analytics.column.curves import GRID
from analytics.exchange_medium import ExchangeMedium
from analytics.media import media, names
from analytics.medium import Medium, hardness_of_kind
from analytics.setup import CapacityKind
from tests.check_values.invented_waters import fourteen

MEDIA = media()
EXCHANGE = {name: m for name, m in MEDIA.items() if isinstance(m, ExchangeMedium)}
ANIONS = ("cl_mmol_l", "so4_mmol_l", "no3_mmol_l")
ALWAYS = {"hygiene", "flush", "confirm"}
NAMED = {
    "carbon": {"not-visible"},
    "hydrogen": {"corrosion"},
    "magnesium": {"steam-boiler", "calcium-test"},
    "membrane": {"permeate"},
    "mixed": {"leakage", "corrosion"},
    "polyphosphate": {"films", "not-visible"},
    "sodium": {"sodium-diet"},
}
"""Cautions that must be named for a hard chalk water."""

AMOUNT = st.one_of(st.just(0.0), st.floats(0.005, 15.0))


@st.composite
def waters(draw: st.DrawFn) -> Water:
    """Any water that can be: each ion none or up to 15 mmol/L, charges closed by sodium or
    chloride."""
    ions = ("ca", "mg", "na", "k", "cl", "so4", "no3")
    alkalinity = draw(st.floats(0.0, 15.0))
    given_ions = {ion: draw(AMOUNT) for ion in ions}
    carbon = alkalinity * draw(st.floats(1.0, 2.5)) + 0.01
    return balanced(water(**given_ions, alkalinity=alkalinity, dic=carbon))


def _by_name(found: dict[str, Medium] | dict[str, ExchangeMedium]) -> pytest.MarkDecorator:
    return pytest.mark.parametrize("medium", found.values(), ids=list(found))


def test_all_seven_families_are_there() -> None:
    """The registry finds each file of the folder."""
    assert set(MEDIA) >= set(NAMED)


@_by_name(MEDIA)
def test_a_medium_says_what_it_is(medium: Medium) -> None:
    """It has a name; codes of cautions are unique."""
    codes = [caution.code for caution in medium.standing]

    assert medium.name
    assert len(codes) == len(set(codes))


@_by_name(MEDIA)
@given(raw=waters())
@settings(max_examples=12)
def test_treated_water_is_a_possible_water(medium: Medium, raw: Water) -> None:
    """No NaN, no negative ion, charges closed, whatever the raw water and the share used."""
    treated = medium.treated(raw, np.array([0.0, 0.5, 1.0, 1.5]))
    rows = stacked(treated)

    assert np.all(np.isfinite(rows))
    assert np.all(rows[: FIELDS.index("alkalinity_meq_l")] >= -1e-9)
    np.testing.assert_allclose(charge_surplus_meq_l(treated), 0.0, atol=1e-6)


@_by_name(MEDIA)
@given(raw=waters())
@settings(max_examples=8)
def test_removable_is_between_none_and_all(medium: Medium, raw: Water) -> None:
    """What a medium takes of a kind is never negative and never more than there is."""
    for kind in CapacityKind:
        taken = float(medium.removable(raw, kind))

        assert 0.0 <= taken <= float(hardness_of_kind(raw, kind)) + 1e-9


@_by_name(MEDIA)
@given(raw=waters())
@settings(max_examples=8)
def test_contrast_and_cautions_are_found_for_any_water(medium: Medium, raw: Water) -> None:
    """All figures are finite, whatever the raw water."""
    contrast = medium.contrast(raw)
    cautions = medium.cautions(raw)

    assert np.all(np.isfinite([contrast.fresh_pct, contrast.rise_at_end_pct]))
    assert all(each.code for each in cautions)
    assert np.all(np.isfinite([v for each in cautions for v in each.values.values()]))


@_by_name(MEDIA)
def test_cautions_are_named_where_they_matter(medium: Medium) -> None:
    """For a hard chalk water the cautions of the family are among those named."""
    codes = {each.code for each in medium.cautions(fourteen().at(8))}

    assert ALWAYS | NAMED.get(medium.name, set()) <= codes


@_by_name(MEDIA)
def test_a_row_of_waters_is_each_water(medium: Medium) -> None:
    """Many waters at once are treated as one by one."""
    raws = fourteen()
    together = medium.treated(raws, 0.3)
    for place in (0, 7, 13):
        np.testing.assert_allclose(
            stacked(together.at(place)), stacked(medium.treated(raws.at(place), 0.3)), atol=1e-6
        )


@_by_name(MEDIA)
def test_shares_used_make_a_row(medium: Medium) -> None:
    """One water at several shares of life gives one treated water each."""
    used = np.array([0.0, 0.9, 1.0])
    row = medium.treated(fourteen().at(5), used)

    assert row.shape == used.shape
    for place, share in enumerate(used):
        one = medium.treated(fourteen().at(5), float(share))
        np.testing.assert_allclose(stacked(row.at(place)), stacked(one), rtol=1e-9)


@_by_name(EXCHANGE)
@given(raw=waters())
@settings(max_examples=8)
def test_exchange_is_by_equivalents(medium: ExchangeMedium, raw: Water) -> None:
    """Anions pass untouched; what cations lose in charge, alkalinity loses."""
    treated = medium.treated(raw, np.array([0.0, 0.7, 1.2]))
    lost = cations_meq_l(raw) - cations_meq_l(treated)

    for field in ANIONS:
        np.testing.assert_allclose(getattr(treated, field), getattr(raw, field), rtol=1e-9)
    np.testing.assert_allclose(lost, raw.alkalinity_meq_l - treated.alkalinity_meq_l, atol=1e-6)


@_by_name(EXCHANGE)
def test_the_kind_comes_back_and_the_load_never_falls(medium: ExchangeMedium) -> None:
    """From a twentieth of life on, hardness of the medium's kind only rises (0.1 % of raw allowed,
    0.3 % where a bed of two works on) in waters with no more alkalinity than hardness; loads rise
    in all."""
    raws = fourteen()
    curves = medium.curves(raws)
    plain = raws.alkalinity_meq_l <= 2.0 * (raws.ca_mmol_l + raws.mg_mmol_l)
    first = 0.2 if medium.name in ("magnesium", "mixed") else 0.05
    settled = slice(int(np.searchsorted(GRID, first)), None)

    dip = 3e-3 if medium.name == "mixed" else 1e-3

    assert np.all(np.diff(curves.share[plain][:, settled], axis=1) >= -dip)
    assert np.all(np.diff(curves.load, axis=1) >= -1e-9)


@_by_name(EXCHANGE)
def test_fresh_leakage_has_a_prior_that_holds_the_middle(medium: ExchangeMedium) -> None:
    """Leakage is ordered 5 % <= median <= 95 % and lies between none and a third."""
    for place in (2, 8, 10):
        leakage = medium.leakage(fourteen().at(place))

        assert -1e-9 <= leakage.p05 <= leakage.p50 <= leakage.p95 < 0.40


@_by_name(EXCHANGE)
def test_shape_priors_are_weights(medium: ExchangeMedium) -> None:
    """Variants and spreads carry positive weights that sum to 1."""
    priors = medium.shape_priors
    for pairs in (priors.variants, priors.spreads()):
        weights = [weight for _, weight in pairs]
        assert min(weights) > 0.0
        assert sum(weights) == pytest.approx(1.0)


def test_a_medium_is_called_as_its_file_is() -> None:
    """The site file offers the files' names without loading them."""
    assert names() == tuple(sorted(media()))
