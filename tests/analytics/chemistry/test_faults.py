"""Water that cannot be is named in plain words; possible water passes in silence."""

from __future__ import annotations

import numpy as np
import pytest

from analytics.chemistry.faults import faults, require_possible
from analytics.chemistry.water import Water, water
from analytics.errors import ModelError
from tests.check_values.tap_waters import FOUR, random_waters

GOOD = water(ca=2.0, na=1.0, cl=1.0, alkalinity=4.0)


@pytest.mark.parametrize(
    ("source", "words"),
    [
        (water(ca=-1.0, alkalinity=2.0), "calcium is negative"),
        (water(ca=2.0, alkalinity=-1.0), "alkalinity is negative"),
        (water(ca=2.0, alkalinity=float("nan")), "alkalinity is not a number"),
        (water(ca=float("inf"), alkalinity=1.0), "calcium is not a number"),
        (water(alkalinity=3.0), "no calcium, magnesium, sodium or potassium"),
        (water(ca=3.0, alkalinity=2.0), "cations exceed anions by 4.00 meq/L"),
        (water(ca=1.0, cl=1.0, alkalinity=4.0), "anions exceed cations by 3.00 meq/L"),
        (water(na=500.0, cl=500.0), "brine"),
    ],
)
def test_impossible_water_is_named(source: Water, words: str) -> None:
    """Each impossibility has its own sentence."""
    assert any(words in fault for fault in faults(source))


@pytest.mark.parametrize("ph", [15.0, -2.0, 1.0, float("nan")])
def test_impossible_ph_is_named(ph: float) -> None:
    """pH 15 is outside what water can have."""
    assert any("pH" in fault for fault in faults(GOOD, ph))


def test_one_bad_water_in_a_batch_is_found() -> None:
    """The worst of many waters speaks for the batch."""
    batch = water(ca=np.array([2.0, 2.0]), alkalinity=np.array([4.0, 9.0]))

    assert faults(batch) == ("anions exceed cations by 5.00 meq/L",)


def test_possible_waters_have_no_faults() -> None:
    """Tap waters, soft to hard, pass, with their pH."""
    crowd, ph = random_waters(300, seed=1)

    assert faults(crowd, ph) == ()
    assert all(faults(source, ph) == () for ph, source in FOUR.values())


def test_requiring_a_possible_water_raises_with_every_fault() -> None:
    """The error lists all faults and says what to do."""
    with pytest.raises(ModelError, match=r"negative.*pH 15") as caught:
        require_possible(water(ca=-1.0, alkalinity=2.0), 15.0)

    assert caught.value.hint
    require_possible(GOOD, 7.5)
