"""Units of hardness and of the rest of the trade.

Values: Ca 40.078, Mg 24.305, CaO 56.077, CaCO3 100.086, HCO3 61.016 g/mol (CIAAW abridged), grain
64.79891 mg, US gallon 3.785411784 L, imperial gallon 4.54609 L (exact). Tolerance 5e-5 relative.
"""

from __future__ import annotations

import pytest

from firmware_bridge.config import kinds
from firmware_bridge.config.kinds import Kind
from firmware_bridge.units import UnitError, convert, parse

RTOL = 5e-5

CONVERSIONS = [
    # 1 degree dH is 10 mg/L CaO
    (1, "dH", "mg/L as CaCO3", 17.84796),
    (1, "dH", "mmol/L", 0.178326),
    (1, "dH", "meq/L", 0.356652),
    (1, "dH", "mg/L as Ca", 7.14696),
    (1, "dH", "mg/L as Mg", 4.33422),
    (1, "dH", "mg/L as HCO3", 21.76151),
    (1, "dH", "fH", 1.784796),
    (1, "dH", "e", 1.252157),
    (1, "dH", "gpg", 1.042639),
    # 1 degree fH is 10 mg/L CaCO3
    (1, "fH", "mmol/L", 0.0999141),
    (1, "fH", "mg/L as Ca", 4.00436),
    (1, "fH", "mg/L as Mg", 2.42841),
    # 1 degree e (Clark) is a grain of CaCO3 to the imperial gallon
    (1, "e", "mg/L as CaCO3", 14.25377),
    (1, "e", "mmol/L", 0.142415),
    (1, "gpg", "mg/L as CaCO3", 17.11806),
    (1, "gpg", "mmol/L", 0.171034),
    (1, "gpg", "meq/L", 0.342067),
    (1, "meq/L", "mg/L as CaCO3", 50.043),
    (1, "mmol/L", "mg/L as CaCO3", 100.086),
    (1, "mmol/L", "dH", 5.6077),
    (1, "mmol/L", "fH", 10.0086),
    (1, "mmol/L", "e", 7.02172),
    (1, "mmol/L", "gpg", 5.84681),
    # SM 2340 B prints 2.497 and 4.118
    (1, "mg/L as Ca", "mg/L as CaCO3", 2.49728),
    (1, "mg/L as Mg", "mg/L as CaCO3", 4.11792),
    (1, "mg/L as HCO3", "mg/L as CaCO3", 0.820162),
    (1, "mg/L as CaCO3", "mg/L as HCO3", 1.219271),
    (51, "mg/L as Ca", "mg/L as CaCO3", 127.36),
    (1, "US gal", "L", 3.785411784),
    (1, "UK gal", "L", 4.54609),
    (12, "month", "day", 365.25),
]

ROUNDED = [  # published to the digits printed: tolerance is half of the last digit
    (10, "gpg", "mg/L as CaCO3", 171.18, 0.005),
    (10, "gpg", "dH", 9.59, 0.005),
    (100, "ppm CaCO3", "dH", 5.60, 0.005),
    (120, "mg/L as CaCO3", "gpg", 7.01, 0.005),
    (120, "mg/L as CaCO3", "dH", 6.72, 0.005),
    (120, "mg/L as CaCO3", "fH", 12.0, 0.05),
    (120, "mg/L as CaCO3", "e", 8.4, 0.05),
    (120, "mg/L as CaCO3", "mmol/L", 1.2, 0.05),
]


@pytest.mark.parametrize(("number", "unit", "into", "expected"), CONVERSIONS)
def test_units_convert_by_the_molar_masses(
    number: float, unit: str, into: str, expected: float
) -> None:
    """Each unit of hardness is an exact multiple of every other."""
    assert convert(number, unit, into) == pytest.approx(expected, rel=RTOL)


@pytest.mark.parametrize(("number", "unit", "into", "expected", "digit"), ROUNDED)
def test_published_conversions_hold_to_their_last_digit(
    number: float, unit: str, into: str, expected: float, digit: float
) -> None:
    """Published checks agree to the digits printed (10 gpg = 171.18 mg/L by the exact grain)."""
    assert convert(number, unit, into) == pytest.approx(expected, abs=max(digit, expected * RTOL))


def test_swapped_converter_is_not_followed() -> None:
    """A printed converter has 1 dH = 10 mg/L CaCO3 and 1 gpg = 17.848 mg/L: both are wrong."""
    assert convert(1, "dH", "mg/L as CaCO3") != pytest.approx(10.0, rel=0.1)
    assert convert(1, "gpg", "mg/L as CaCO3") != pytest.approx(17.848, rel=0.01)


@pytest.mark.parametrize("kind", kinds.ALL_KINDS, ids=lambda k: f"{k.name}-{k.base}")
def test_every_spelling_that_is_offered_is_read(kind: Kind) -> None:
    """What a message or the sample proposes can be written, and is possible."""
    for text in kind.written:
        assert kind.low <= parse(text, kind) <= kind.high


@pytest.mark.parametrize(
    ("kind", "text", "expected"),
    [
        (kinds.HARDNESS, "12 °dH", 12 / 5.6077),
        (kinds.HARDNESS, "12dH", 12 / 5.6077),
        (kinds.HARDNESS, "21 °fH", 21 * 0.0999141),
        (kinds.HARDNESS, "15 clark", 15 * 0.142415),
        (kinds.HARDNESS, "15 °e", 15 * 0.142415),
        (kinds.HARDNESS, "214 ppm CaCO3", 214 / 100.086),
        (kinds.HARDNESS, "214 ppm as CaCO3", 214 / 100.086),
        (kinds.HARDNESS, "2140 ug/mL as CaCO3", 2140 / 100.086),
        (kinds.CAPACITY, "3600 dH*L", 3600 * 0.178326),
        (kinds.CAPACITY, "3600 °dH·L", 3600 * 0.178326),
        (kinds.CAPACITY, "3.6e3 L*dH", 3600 * 0.178326),
        (kinds.CAPACITY, "1000 gpg*gal", 1000 * 0.0647989 / 100.086 * 1000),
        (kinds.CAPACITY, "1 kgr", 1000 * 0.0647989 / 100.086 * 1000),
        (kinds.CAPACITY, "2 eq", 1000.0),
        (kinds.CAPACITY, "1 mol", 1000.0),
        (kinds.SHARE, "30%", 0.3),
        (kinds.CONDUCTIVITY, "557 μS/cm", 557.0),
        (kinds.CONDUCTIVITY, "0.1413 S/m", 1413.0),
        (kinds.TEMPERATURE, "-4 °C", -4.0),
        (kinds.TEMPERATURE, "212 °F", 100.0),
        (kinds.K_FACTOR, "1380 pulses/L", 1380.0),
        (kinds.K_FACTOR, "2.2222 mL/pulse", 450.0),
        (kinds.FLOW, "2 L per min", 2.0),
        (kinds.VOLUME, "1.2 m³", 1200.0),
        (kinds.VOLUME, "5 hL", 500.0),
        (kinds.CELL_CONSTANT, "1.02 cm⁻¹", 1.02),
        (kinds.CELL_CONSTANT, "98 1/m", 0.98),
        (kinds.SPAN_S, "15 min", 900.0),
    ],
)
def test_spellings_of_the_trade_are_read(kind: Kind, text: str, expected: float) -> None:
    """People write a unit in more than one way."""
    assert parse(text, kind) == pytest.approx(expected, rel=RTOL)


def test_alkalinity_counts_acid_where_hardness_counts_ions() -> None:
    """1 mmol/L of acid capacity is 1 meq/L and 2.804 dH; 1 mmol/L of hardness is 5.608 dH."""
    assert parse("1 mmol/L", kinds.ALKALINITY) == pytest.approx(1.0)
    assert parse("2.80385 dH", kinds.ALKALINITY) == pytest.approx(1.0, rel=RTOL)
    assert parse("5.6077 dH", kinds.HARDNESS) == pytest.approx(1.0, rel=RTOL)


def test_bare_mg_per_litre_is_of_the_element_named() -> None:
    """ "47 mg/L" of calcium is calcium; said to be as CaCO3, it is not."""
    assert parse("40.078 mg/L", kinds.CALCIUM) == pytest.approx(1.0)
    assert parse("24.305 mg/L", kinds.MAGNESIUM) == pytest.approx(1.0)
    assert parse("100.086 mg/L as CaCO3", kinds.CALCIUM) == pytest.approx(1.0)


@pytest.mark.parametrize(
    ("kind", "text", "problem", "mend"),
    [
        (kinds.HARDNESS, "12", "the unit is missing", '"12 dH"'),
        (kinds.HARDNESS, "", "not a number with a unit", "12 dH"),
        (kinds.HARDNESS, "twelve dH", "not a number with a unit", "12 dH"),
        (kinds.HARDNESS, "nan dH", "not a number with a unit", "12 dH"),
        (kinds.HARDNESS, "1,5 dH", "decimal comma", "point"),
        (kinds.HARDNESS, "1e400 dH", "not a number with a unit|no finite number", ""),
        (kinds.HARDNESS, "12 dh", "does not measure a hardness", 'Did you mean "dH"'),
        (kinds.HARDNESS, "12 dHH", "no unit known", 'Did you mean "dH"'),
        (kinds.HARDNESS, "12 mg/L", "does not measure a hardness", "milligrams of what"),
        (kinds.HARDNESS, "12 ppm", "no unit known", "milligrams of what"),
        (kinds.HARDNESS, "12 °C", "does not measure a hardness", "12 dH"),
        (kinds.HARDNESS, "12 dH*L", "does not measure a hardness", ""),
        (kinds.HARDNESS, "12 dH^9", "no unit known", ""),
        (kinds.HARDNESS, "12 __import__('os')", "no unit known", ""),
        (kinds.HARDNESS, "1" * 200 + " dH", "not a number with a unit", ""),
        (kinds.CAPACITY, "3600 L", "does not measure a capacity", "3600 dH*L"),
        (kinds.K_FACTOR, "0 L/pulse", "does not measure|no finite", ""),
        (kinds.SHARE, "0.3", "the unit is missing", '"0.3 %"'),
        (kinds.TEMPERATURE, "15 °C/min", "does not measure|no unit known", ""),
    ],
)
def test_texts_that_are_no_quantity_are_refused(
    kind: Kind, text: str, problem: str, mend: str
) -> None:
    """A refusal says what is wrong and offers the nearest that is right."""
    with pytest.raises(UnitError, match=problem) as caught:
        parse(text, kind)

    assert mend in caught.value.mend


def test_unlike_units_do_not_convert() -> None:
    """A hardness is no conductivity."""
    with pytest.raises(UnitError, match="do not measure the same"):
        convert(1, "dH", "uS/cm")
