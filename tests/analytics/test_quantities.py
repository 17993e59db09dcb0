"""Units at the edge: exact factors, checked against Pint, and readable refusals."""

from __future__ import annotations

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analytics.chemistry.masses import CACO3
from analytics.errors import ModelError
from analytics.quantities import (
    ALKALINITY,
    CAPACITY,
    HARDNESS,
    QUANTITIES,
    TEMPERATURE,
    VOLUME,
    Quantity,
)

REGISTRY = pint.UnitRegistry()
EVERY_UNIT = [(q, u.name) for q in QUANTITIES for u in q.units]

ORACLE = [
    ("VOLUME", "gal", "gallon", "liter"),
    ("VOLUME", "imperial gal", "imperial_gallon", "liter"),
    ("VOLUME", "m3", "meter**3", "liter"),
    ("VOLUME", "mL", "milliliter", "liter"),
    ("CONDUCTIVITY", "mS/cm", "millisiemens/centimeter", "microsiemens/centimeter"),
    ("CONDUCTIVITY", "S/m", "siemens/meter", "microsiemens/centimeter"),
    ("CONDUCTIVITY", "mS/m", "millisiemens/meter", "microsiemens/centimeter"),
    ("FLOW", "L/h", "liter/hour", "liter/minute"),
    ("FLOW", "m3/h", "meter**3/hour", "liter/minute"),
    ("FLOW", "gpm", "gallon/minute", "liter/minute"),
]
BY_NAME = {q.name.upper(): q for q in QUANTITIES}


@pytest.mark.parametrize(("quantity", "unit", "theirs", "base"), ORACLE)
def test_factors_agree_with_pint(quantity: str, unit: str, theirs: str, base: str) -> None:
    """Where Pint knows the unit, both give the same factor."""
    expected = REGISTRY.Quantity(1.0, theirs).to(base).magnitude

    assert BY_NAME[quantity].to_base(1.0, unit) == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize(
    ("unit", "theirs"), [("gpg", "grain/gallon"), ("e", "grain/imperial_gallon")]
)
def test_grains_per_gallon_agree_with_pint(unit: str, theirs: str) -> None:
    """A grain of CaCO3 per gallon, as moles of CaCO3."""
    mg_l = REGISTRY.Quantity(1.0, theirs).to("milligram/liter").magnitude

    assert HARDNESS.to_base(1.0, unit) == pytest.approx(mg_l / CACO3, rel=1e-12)


@pytest.mark.parametrize("celsius", [-40.0, 0.0, 37.5, 100.0])
def test_temperatures_agree_with_pint(celsius: float) -> None:
    """Fahrenheit and kelvin have their offsets."""
    theirs = REGISTRY.Quantity(celsius, "degC")

    assert TEMPERATURE.from_base(celsius, "degF") == pytest.approx(theirs.to("degF").magnitude)
    assert TEMPERATURE.from_base(celsius, "K") == pytest.approx(theirs.to("kelvin").magnitude)


@pytest.mark.parametrize(("quantity", "unit"), EVERY_UNIT, ids=lambda x: getattr(x, "name", x))
@given(value=st.floats(-1e4, 1e4))
def test_every_unit_goes_there_and_back(quantity: Quantity, unit: str, value: float) -> None:
    """To the base unit and back is the same value."""
    assert quantity.from_base(quantity.to_base(value, unit), unit) == pytest.approx(
        value, rel=1e-12, abs=1e-9
    )


def test_one_hardness_in_every_unit_is_one_alkalinity_in_every_unit() -> None:
    """As CaCO3, degrees of hardness and of alkalinity are the same amount of equivalents."""
    for unit in ("dH", "fH", "e", "gpg", "mg/L CaCO3", "ppm"):
        assert ALKALINITY.to_base(1.0, unit) == pytest.approx(2 * HARDNESS.to_base(1.0, unit))


def test_a_degree_is_not_ten_mg_of_caco3() -> None:
    """A converter in circulation takes 1 dH for 10 mg/L CaCO3 and 1 gpg for 17.848: both wrong."""
    assert HARDNESS.convert(1.0, "dH", "mg/L CaCO3") != pytest.approx(10.0, rel=0.1)
    assert HARDNESS.convert(1.0, "gpg", "mg/L CaCO3") != pytest.approx(17.848, rel=0.01)


def test_capacity_counts_in_mmol_of_hardness() -> None:
    """1 dH*L is 0.178326 mmol, 1 eq 500 mmol."""
    assert CAPACITY.to_base(1.0, "dH*L") == pytest.approx(0.178326, rel=1e-5)
    assert CAPACITY.to_base(1.0, "eq") == 500.0


def test_values_are_shown_with_sign_and_sensible_digits() -> None:
    """2.5 mmol/L is 14.0 degrees; litres have no decimals."""
    assert HARDNESS.shown(2.5, "dH") == "14.0 °dH"
    assert VOLUME.shown(1234.4, "L") == "1234 L"


def test_an_unknown_unit_is_refused_with_those_there_are() -> None:
    """The error names the unit and lists its neighbours."""
    with pytest.raises(ModelError, match="'furlong' is not a unit of hardness") as caught:
        HARDNESS.to_base(1.0, "furlong")

    assert "dH" in caught.value.hint
