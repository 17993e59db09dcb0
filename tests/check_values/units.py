"""Hardness and alkalinity units, from definitions and published tables."""

from __future__ import annotations

from collections.abc import Iterator

from analytics.chemistry import masses
from analytics.chemistry.treatment import sodium_added_mg_l
from analytics.quantities import (
    ALKALINITY,
    CAPACITY,
    CUBIC_FOOT_L,
    DH_MMOL_L,
    GPG_MMOL_L,
    HARDNESS,
    POUND_G,
    Quantity,
)
from tests.check_values.checks import Check, Kind

DEFINITION = "definition with CIAAW abridged masses"
EXACT = 5e-5

HARDNESS_FACTORS = (
    ("dH", "mg/L CaCO3", 17.84796),
    ("dH", "mmol/L", 0.178326),
    ("dH", "meq/L", 0.356652),
    ("fH", "mmol/L", 0.0999141),
    ("e", "mg/L CaCO3", 14.25377),
    ("e", "mmol/L", 0.142415),
    ("gpg", "mg/L CaCO3", 17.11806),
    ("gpg", "mmol/L", 0.171034),
    ("gpg", "meq/L", 0.342067),
    ("meq/L", "mg/L CaCO3", 50.043),
    ("mmol/L", "mg/L CaCO3", 100.086),
    ("mmol/L", "dH", 5.6077),
    ("mmol/L", "fH", 10.0086),
    ("mmol/L", "e", 7.02172),
    ("mmol/L", "gpg", 5.84681),
    ("dH", "fH", 1.784796),
    ("dH", "e", 1.252157),
    ("dH", "gpg", 1.042639),
)
"""1 of the first unit in the second."""

PUBLISHED_CONVERSIONS = (
    (10.0, "gpg", "mg/L CaCO3", 171.18, 0.005),
    (10.0, "gpg", "dH", 9.59, 0.005),
    (100.0, "mg/L CaCO3", "dH", 5.60, 0.005),
    (1.0, "mmol/L", "dH", 5.6077, 0.0001),
    (120.0, "mg/L CaCO3", "gpg", 7.01, 0.005),
    (120.0, "mg/L CaCO3", "dH", 6.72, 0.005),
    (120.0, "mg/L CaCO3", "fH", 12.0, 0.05),
    (120.0, "mg/L CaCO3", "e", 8.4, 0.05),
    (120.0, "mg/L CaCO3", "mmol/L", 1.2, 0.05),
    (4.0, "gpg", "mg/L CaCO3", 68.47, 0.005),
    (5.0, "gpg", "mg/L CaCO3", 85.59, 0.005),
)
"""Printed in utilities' and unit tables, with the last digit they print."""


def _conversion(quantity: Quantity, value: float, unit: str, into: str) -> float:
    return quantity.convert(value, unit, into)


def rows() -> Iterator[Check]:
    """Every unit check."""
    for unit, into, expected in HARDNESS_FACTORS:
        yield Check(
            group="hardness units",
            what=f"1 {unit} in {into}",
            expected=expected,
            ours=lambda u=unit, i=into: _conversion(HARDNESS, 1.0, u, i),
            tolerance=EXACT,
            relative=True,
            source=DEFINITION,
            kind=Kind.COMPUTED,
        )
    for value, unit, into, expected, tolerance in PUBLISHED_CONVERSIONS:
        yield Check(
            group="hardness units, published conversions",
            what=f"{value:g} {unit} in {into}",
            expected=expected,
            ours=lambda v=value, u=unit, i=into: _conversion(HARDNESS, v, u, i),
            tolerance=tolerance,
            source="utilities' published conversion tables",
            kind=Kind.PUBLISHED,
        )
    yield from _single()


def _mass_row(
    what: str,
    expected: float,
    ours: float,
    group: str = "hardness by mass",
    tolerance: float = EXACT,
) -> Check:
    return Check(
        group=group,
        what=what,
        expected=expected,
        ours=lambda: ours,
        tolerance=tolerance,
        relative=True,
        source=DEFINITION,
        kind=Kind.COMPUTED,
    )


def _single() -> Iterator[Check]:
    yield _mass_row("1 dH, mg/L Ca", 7.14696, DH_MMOL_L * masses.CA)
    yield _mass_row("1 dH, mg/L Mg", 4.33422, DH_MMOL_L * masses.MG)
    yield _mass_row("1 dH as carbonate hardness, mg/L HCO3", 21.76151, 2 * DH_MMOL_L * masses.HCO3)
    yield _mass_row("mg/L CaCO3 per mg/L Ca", 2.49728, masses.CACO3 / masses.CA)
    yield _mass_row("mg/L CaCO3 per mg/L Mg", 4.11792, masses.CACO3 / masses.MG)
    yield _mass_row("1 mg/L HCO3, mg/L CaCO3", 0.820162, masses.CACO3 / 2 / masses.HCO3)
    yield _mass_row("51 mg/L Ca, mg/L CaCO3", 127.36, 51 / masses.CA * masses.CACO3)
    sodium = "sodium by exchange"
    yield _mass_row("Na per dH, mg/L", 8.19936, float(sodium_added_mg_l(DH_MMOL_L)), sodium)
    yield _mass_row("Na per gpg, mg/L", 7.86404, float(sodium_added_mg_l(GPG_MMOL_L)), sodium)
    yield _mass_row("Na of 20 dH, mg/L", 163.99, float(sodium_added_mg_l(20 * DH_MMOL_L)), sodium)
    per_mg = float(sodium_added_mg_l(1 / masses.CACO3))
    yield _mass_row("Na per mg CaCO3, mg", 0.459400, per_mg, sodium)
    capacity = "exchange capacity units"
    kgr_per_ft3 = CAPACITY.to_base(1.0, "kgr") / CUBIC_FOOT_L
    yield _mass_row("1 kgr/ft3, g CaCO3/L", 2.28835, kgr_per_ft3 * masses.CACO3 / 1000, capacity)
    yield _mass_row("1 kgr/ft3, eq/L", 0.0457277, kgr_per_ft3 / 500, capacity)
    yield _mass_row("1 eq/L, kgr/ft3", 21.8686, 500 / kgr_per_ft3, capacity)
    yield _mass_row("1.2 eq over 15 dH, L", 224.3, 600 / (15 * DH_MMOL_L), capacity, 1e-3)
    yield _mass_row("2.0 eq over 10 dH, L", 560.8, 1000 / (10 * DH_MMOL_L), capacity, 1e-3)
    salt = "salt to renew a bed"
    yield _mass_row("NaCl, g per eq", 58.44, masses.NACL, salt, 1e-3)
    yield _mass_row("NaCl, g per g CaCO3", 1.1678, masses.NACL / (masses.CACO3 / 2), salt, 1e-3)
    per_pound = POUND_G / masses.NACL * 500
    grains = CAPACITY.from_base(per_pound, "gr")
    yield _mass_row("hardness per lb NaCl, grains", 5994.0, grains, salt, 1e-3)
    yield _mass_row(
        "1 mg/L HCO3 as alkalinity, mg/L CaCO3",
        0.820162,
        ALKALINITY.convert(1.0, "mg/L HCO3", "mg/L CaCO3"),
    )
