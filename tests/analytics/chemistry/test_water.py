"""A water as its ions: hardness and its parts, charges, shapes."""

from __future__ import annotations

import numpy as np
import pytest

from analytics.chemistry.water import (
    FIELDS,
    anions_meq_l,
    balanced,
    carbonate_hardness_mmol_l,
    cations_meq_l,
    changed,
    charge_surplus_meq_l,
    from_mg_l,
    hardness_mmol_l,
    per_kg_water,
    permanent_hardness_mmol_l,
    stacked,
    unstacked,
    water,
)

HARD_GYPSUM = water(ca=3.0, mg=1.0, na=0.5, cl=1.0, so4=2.5, alkalinity=2.5)
SODA = water(ca=0.5, mg=0.25, na=4.0, cl=0.5, alkalinity=5.0)


def test_hardness_is_calcium_and_magnesium() -> None:
    """Total hardness leaves sodium out and splits into carbonate and permanent hardness."""
    assert float(hardness_mmol_l(HARD_GYPSUM)) == 4.0
    assert float(carbonate_hardness_mmol_l(HARD_GYPSUM)) == 1.25
    assert float(permanent_hardness_mmol_l(HARD_GYPSUM)) == 2.75


def test_alkalinity_above_hardness_leaves_no_permanent_hardness() -> None:
    """Where alkalinity exceeds hardness, all hardness is carbonate hardness."""
    assert float(carbonate_hardness_mmol_l(SODA)) == 0.75
    assert float(permanent_hardness_mmol_l(SODA)) == 0.0


def test_charges_close_in_a_whole_analysis() -> None:
    """Cations equal anions and alkalinity."""
    assert float(cations_meq_l(HARD_GYPSUM)) == float(anions_meq_l(HARD_GYPSUM)) == 8.5


def test_balancing_adds_sodium_or_chloride_and_nothing_else() -> None:
    """Missing cations become sodium, missing anions chloride."""
    open_ended = water(ca=[2.0, 2.0], alkalinity=[3.0, 5.0])
    closed = balanced(open_ended)

    assert closed.cl_mmol_l.tolist() == [1.0, 0.0]
    assert closed.na_mmol_l.tolist() == [0.0, 1.0]
    assert charge_surplus_meq_l(closed).tolist() == [0.0, 0.0]


def test_columns_of_any_shape_broadcast() -> None:
    """A scalar, a row and a column make a grid; one place of it is a single water."""
    grid = water(ca=np.ones((3, 1)), alkalinity=np.arange(4.0), na=0.5)

    assert grid.shape == (3, 4)
    assert float(grid.at((2, 3)).alkalinity_meq_l) == 3.0
    assert grid.at((2, 3)).shape == ()


def test_stacking_and_unstacking_give_the_same_water() -> None:
    """The rows follow the order of FIELDS."""
    rows = stacked(HARD_GYPSUM)

    assert rows.shape == (len(FIELDS),)
    assert float(unstacked(rows).so4_mmol_l) == 2.5


def test_mass_concentrations_become_moles() -> None:
    """40.078 mg/L of calcium is 1 mmol/L; 61.016 mg/L of bicarbonate 1 meq/L."""
    made = from_mg_l({"ca": 40.078, "hco3": 61.016})

    assert float(made.ca_mmol_l) == pytest.approx(1.0)
    assert float(made.alkalinity_meq_l) == pytest.approx(1.0)


def test_an_unknown_ion_is_named() -> None:
    """A slip in an ion's name says which names there are."""
    with pytest.raises(KeyError, match="clorine"):
        from_mg_l({"clorine": 1.0})


def test_without_carbon_given_it_equals_alkalinity() -> None:
    """The default of inorganic carbon is a water near pH 8.3."""
    assert float(water(alkalinity=2.0).dic_mmol_l) == 2.0
    assert float(water(alkalinity=2.0, dic=2.5).dic_mmol_l) == 2.5


def test_amounts_per_kilogram_of_water_become_amounts_per_litre() -> None:
    """A litre at 25 C holds 0.99705 kg of water."""
    assert float(per_kg_water(ca=2.0).ca_mmol_l) == pytest.approx(1.9941)


def test_changing_a_column_leaves_the_first_water_alone() -> None:
    """A new value is returned; nothing is written into the old water."""
    other = changed(HARD_GYPSUM, ca_mmol_l=1.0)

    assert float(other.ca_mmol_l) == 1.0
    assert float(HARD_GYPSUM.ca_mmol_l) == 3.0
