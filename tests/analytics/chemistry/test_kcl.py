"""Calibration standards: the scale is named, and unknown bottles and temperatures are refused."""

from __future__ import annotations

import numpy as np
import pytest

from analytics.chemistry.kcl import Scale, kcl_us_cm, standard_us_cm
from analytics.errors import ModelError


def test_one_number_means_different_liquids_on_different_scales() -> None:
    """0.01 KCl is 1408.23, 1408.8 or 1412 uS/cm by mol/kg, demal and mol/L."""
    found = [float(kcl_us_cm(0.01, scale, 25.0)) for scale in Scale]

    assert found == pytest.approx([1408.23, 1408.8, 1412.0])


@pytest.mark.parametrize("label", [84.0, 500.0, 1413.0, 5000.0, 12880.0, 111900.0])
def test_a_standard_has_its_label_at_25_and_rises_throughout(label: float) -> None:
    """The label is the 25 C value; conductivity rises about 2 %/K from 0 to 50 C."""
    row = standard_us_cm(label, np.linspace(0.0, 50.0, 101))

    assert float(standard_us_cm(label, 25.0)) == pytest.approx(label, rel=1e-9)
    assert np.all(np.diff(row) > 0)


@pytest.mark.parametrize("temp_c", [-1.0, 51.0, float("nan")])
def test_a_temperature_outside_the_tables_is_refused(temp_c: float) -> None:
    """Below 0, above 50 C or unknown: the error says what to do."""
    with pytest.raises(ModelError) as caught:
        standard_us_cm(1413.0, temp_c)

    assert "room temperature" in caught.value.hint


def test_a_bottle_that_is_in_no_table_is_refused_with_those_that_are() -> None:
    """0.3 mol/kg is not tabulated; the hint lists what is."""
    with pytest.raises(ModelError) as caught:
        kcl_us_cm(0.3, Scale.MOL_PER_KG, 25.0)

    assert "0.01, 0.1, 1" in caught.value.hint
