"""Figures as text: digits by the width of the range, thin spaces, ranges, per cents."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from analytics.errors import ModelError
from analytics.samples import Spread
from dashboards.phrases.numbers import NumberForm, decimal_text, percent, step_for, written
from tests.dashboards.specimens import DH, english

FORM = NumberForm()


@pytest.mark.parametrize(
    ("figure", "value", "joined"),
    [
        ((1240, 940, 1560), "1\u202f240", "940–1\u202f560"),
        ((190, 60, 340), "190", "60–340"),
        ((62, 59, 65), "62", "59–65"),
        ((521, 496, 546), "521", "496–546"),
        ((16.2, 12.2, 20.0), "16", "12–20"),
        ((0.4, 0.1, 0.9), "0.4", "0.1–0.9"),
    ],
)
def test_litres_have_two_to_three_figures(
    figure: tuple[float, float, float], value: str, joined: str
) -> None:
    """Litres are written to two or three figures, with a thin space in thousands."""
    text = written(*figure, FORM, litres=True)

    assert (text.value, text.joined) == (value, joined)


@given(
    middle=st.floats(-1000, 100_000),
    below=st.floats(0.001, 5000),
    above=st.floats(0.001, 5000),
    litres=st.booleans(),
)
def test_last_digit_steps_by_the_rule_of_the_width(
    middle: float, below: float, above: float, litres: bool
) -> None:
    """The step of the last digit is between a fiftieth and a fifth of the range's width."""
    text = written(middle, middle - below, middle + above, FORM, litres=litres)
    number = [float(re.sub("\u202f", "", t).replace("−", "-")) for t in (text.value, text.low)]

    assert abs(number[0] - middle) <= (below + above) / 10 * 1.001
    assert abs(number[1] - (middle - below)) <= (below + above) / 10 * 1.001
    if not litres:
        assert (below + above) / 50 * 0.999 <= step_for(below + above)
        assert step_for(below + above) <= (below + above) / 5 * 1.001


@pytest.mark.parametrize("ends", [(2.0, 1.0), (5.0, 9.0), (float("nan"), 9.0), (5.0, float("inf"))])
def test_figure_without_a_sane_range_is_refused(ends: tuple[float, float]) -> None:
    """A range that is upside down, beside its figure or not finite is refused."""
    with pytest.raises(ModelError, match="range"):
        written(4.0, *ends, FORM)


def test_range_with_a_negative_side_uses_a_word() -> None:
    """An en dash beside a minus cannot be read, so the range says "to"."""
    assert written(-0.5, -2.0, 3.0, FORM).joined == "−2 to 3"


def test_minus_zero_is_zero() -> None:
    """A small negative number that rounds to zero carries no minus."""
    assert decimal_text(-0.01, 0.1, FORM) == "0.0"


@pytest.mark.parametrize(
    ("share", "text"),
    [(0.0, "<1 %"), (0.004, "<1 %"), (0.006, "1 %"), (0.5, "50 %"), (0.994, "99 %"), (1, ">99 %")],
)
def test_chance_is_never_nothing_or_all(share: float, text: str) -> None:
    """Chances are whole per cents from 1 to 99, and "<1", ">99" beyond."""
    assert percent(share).replace("\u202f", " ") == text


@pytest.mark.parametrize(
    ("unit", "text"),
    [
        ("dH", "7.0 °dH (6.6–7.5)"),
        ("fH", "12.5 °fH (11.8–13.4)"),
        ("e", "8.8 °e (8.3–9.4)"),
        ("gpg", "7.3 gpg (6.9–7.8)"),
        ("mg/L CaCO3", "125 mg/L CaCO₃ (118–134)"),
        ("mmol/L", "1.25 mmol/L (1.18–1.34)"),
    ],
)
def test_hardness_is_written_in_the_readers_unit(unit: str, text: str) -> None:
    """One hardness in every unit, with the digits its range deserves in that unit.

    1 dH = 0.178326 mmol/L = 1.784796 fH = 1.252157 e = 1.042639 gpg = 17.84796 mg/L CaCO3
    (CIAAW molar masses).
    """
    figure = english(hardness_unit=unit).hardness(Spread(p50=7.0 * DH, p05=6.6 * DH, p95=7.5 * DH))

    assert figure.full.replace("\u202f", " ") == text


def test_gallons_and_fahrenheit_by_preference() -> None:
    """Volume and temperature follow the reader too."""
    reader = english(volume_unit="gal", temperature_unit="degF")
    left = reader.volume(Spread(p50=1240, p05=940, p95=1560))

    assert reader.volume_words(left).replace("\u202f", " ") == "330 US gallons"
    warm = reader.temperature(Spread(p50=20, p05=19.5, p95=20.5))
    assert warm.full.replace("\u202f", " ") == "68.0 °F (67.1–68.9)"


def test_exact_zero_has_a_width_all_the_same() -> None:
    """A range of no width, such as nothing left for certain, is written without failing."""
    figure = english().volume(Spread(p50=0, p05=0, p95=0))

    assert figure.full == "0\u202fL (0–0)"
