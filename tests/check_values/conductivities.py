"""Potassium chloride, single salts, named waters and ions: conductivity at 25 C and other t."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping

import numpy as np

from analytics.chemistry.carbonate import with_ph
from analytics.chemistry.conductivity import D_TO_LAMBDA, ec25_us_cm, ec_at_us_cm
from analytics.chemistry.kcl import Scale, kcl_us_cm, standard_us_cm
from analytics.chemistry.methods import (
    LIMITING_S_CM2_EQ,
    SM_LIMITING_S_CM2_EQ,
    limiting_us_cm,
    mccleskey_us_cm,
    simple_strength,
    sm2510_activity,
    sm2510_us_cm,
)
from analytics.chemistry.mobility import MOBILITIES
from analytics.chemistry.treatment import (
    calcium_and_magnesium_for_hydrogen,
    calcium_and_magnesium_for_sodium,
    calcium_for_magnesium,
)
from analytics.chemistry.water import WATER_KG_PER_L, Water, from_mg_l, per_kg_water, water
from analytics.samples import Floats
from tests.check_values.checks import Check, Kind
from tests.check_values.tap_waters import FOUR

CRC_KCL = "CRC Handbook 91st ed. p. 5-73; Pratt et al., Pure Appl. Chem. 73 (2001) 1783"
KCL_MOLAL: dict[float, tuple[float | None, ...]] = {
    0.01: (772.92, 890.96, 1013.95, 1141.45, 1219.93, 1273.03,
           1408.23, 1546.63, 1687.79, 1831.27, 1976.62, 2123.43),
    0.1: (7116.85, 8183.70, 9291.72, 10437.1, 11140.6, 11615.9,
          12824.6, 14059.2, 15316.0, 16591.0, 17880.6, 19180.9),
    1.0: (63488, 72030, 80844, 89900, None, 99170,
          108620, 118240, 127970, 137810, 147720, 157670),
}  # fmt: skip
KCL_TEMPS_C = (0, 5, 10, 15, 18, 20, 25, 30, 35, 40, 45, 50)

KCL_DEMAL = {
    (1.0, 0): 65176, (1.0, 18): 97838, (1.0, 25): 111342,
    (0.1, 0): 7138, (0.1, 18): 11167, (0.1, 25): 12856,
    (0.01, 0): 773.6, (0.01, 18): 1220.5, (0.01, 25): 1408.8,
}  # fmt: skip
"""OIML R 56:1981 and ASTM D1125, uS/cm, from memory."""

SM_2510 = "Standard Methods 2510, table 2510:I"
KCL_MOL_PER_L = {
    0.001: 146.9, 0.005: 717.5, 0.01: 1412, 0.02: 2765, 0.05: 6667,
    0.1: 12890, 0.2: 24800, 0.5: 58670, 1.0: 111900,
}  # fmt: skip

EPA_1413 = {21: 1305, 22: 1332, 23: 1359, 24: 1386, 25: 1413, 26: 1441}
EPA_1413_MEMORY = {27: 1468, 28: 1496}
BOTTLED = {
    84.0: ((53.02, 60.34, 67.61, 75.80, 84.00, 92.19, 100.92), 0.005),
    500.0: ((315.3, 359.6, 402.9, 451.5, 500.0, 548.5, 602.5), 0.007),
    1413.0: ((896, 1020, 1147, 1278, 1413, 1552), 0.005),
    12880.0: ((8220, 9330, 10480, 11670, 12880, 14120, 15390), 0.005),
}
"""Printed beside bottled standards at 5, 10, ... 35 C. The 1413 row's 35 C figure (1667) is 1.6 %
below the ratio of the standard solutions and is left out."""

CRC_SALTS = "CRC Handbook 97th ed., equivalent conductivity of electrolytes at 25 C"
SINGLE_SALTS = {
    "NaCl": (("na", 1, "cl", 1), (62.22, 123.68, 602.95, 1184.5, 2314)),
    "KCl": (("k", 1, "cl", 1), (73.87, 146.88, 716.9, 1412, 2765.4)),
    "CaCl2": (("ca", 0.5, "cl", 1), (65.93, 130.3, 620.95, 1203, 2311.8)),
    "MgCl2": (("mg", 0.5, "cl", 1), (62.775, 124.15, 591.25, 1144.9, 2199.8)),
    "Na2SO4": (("na", 1, "so4", 0.5), (62.84, 124.09, 585.45, 1123.8, 2134.6)),
}
SALT_EQ_L = (0.0005, 0.001, 0.005, 0.01, 0.02)

CRC_IONS = "CRC Handbook, ionic conductivity and diffusion at infinite dilution"
LIMITING = {
    "H": 349.65, "Na": 50.08, "K": 73.48, "Mg": 53.0, "Ca": 59.47,
    "OH": 198.0, "Cl": 76.31, "NO3": 71.42, "HCO3": 44.5, "CO3": 69.3, "SO4": 80.0,
}  # fmt: skip
CHARGE = {"Mg": 2, "Ca": 2, "CO3": 2, "SO4": 2}

L2 = "PHREEQC 3.8.6, phreeqc.dat 2024-05-22"
FOUR_TEMPS_C = (0, 5, 10, 15, 20, 25, 30, 35)
FOUR_AT_TEMPERATURE = {
    "W1 soft": (66.09, 77.89, 90.35, 103.44, 117.09, 131.26, 145.91, 160.99),
    "W2 medium": (206.14, 243.21, 282.37, 323.44, 366.23, 410.56, 456.22, 503.02),
    "W3 hard chalk": (329.14, 388.46, 451.16, 516.96, 585.56, 656.64, 729.89, 804.96),
    "W4 hard sulphate": (511.35, 601.49, 696.17, 794.83, 896.96, 1002.04, 1109.55, 1218.95),
}
FOUR_LIMITING = (135.04, 449.28, 736.90, 1246.98)
FOUR_SM_2510 = (123.73, 382.55, 602.66, 968.63)
FOUR_MCCLESKEY = (127.52, 392.13, 632.00, 922.99)

MCCLESKEY_KCL = {(0.01, 25): 1423.44, (0.01, 0): 778.12, (0.1, 25): 12975.1, (0.1, 0): 7212.4}


def _hard_chalk() -> Water:
    ph, source = FOUR["W3 hard chalk"]
    return with_ph(source, ph)


def rows() -> Iterator[Check]:
    """Every conductivity check."""
    yield from _kcl_rows()
    yield from _salt_rows()
    yield from _limiting_rows()
    yield from _water_rows()
    yield from _treated_rows()
    yield from _other_methods()


def _kcl_rows() -> Iterator[Check]:
    for molality, row in KCL_MOLAL.items():
        for temp_c, expected in zip(KCL_TEMPS_C, row, strict=True):
            if expected is not None:
                yield Check(
                    group="KCl, mol/kg, 0-50 C",
                    what=f"{molality:g} mol/kg KCl at {temp_c} C, uS/cm",
                    expected=expected,
                    ours=lambda m=molality, t=temp_c: float(kcl_us_cm(m, Scale.MOL_PER_KG, t)),
                    tolerance=0.0005,
                    relative=True,
                    source=CRC_KCL,
                    kind=Kind.PUBLISHED,
                )
    for (demal, temp_c), expected in KCL_DEMAL.items():
        yield Check(
            group="KCl, demal",
            what=f"{demal:g} D KCl at {temp_c} C, uS/cm",
            expected=expected,
            ours=lambda d=demal, t=temp_c: float(kcl_us_cm(d, Scale.DEMAL, t)),
            tolerance=0.001,
            relative=True,
            source="OIML R 56:1981, ASTM D1125",
            kind=Kind.MEMORY,
        )
    for molarity, expected in KCL_MOL_PER_L.items():
        yield Check(
            group="KCl, mol/L",
            what=f"{molarity:g} mol/L KCl at 25 C, uS/cm",
            expected=expected,
            ours=lambda c=molarity: float(kcl_us_cm(c, Scale.MOL_PER_L, 25.0)),
            tolerance=0.001,
            relative=True,
            source=SM_2510,
            kind=Kind.PUBLISHED,
        )
    for table, kind in ((EPA_1413, Kind.PUBLISHED), (EPA_1413_MEMORY, Kind.MEMORY)):
        for temp_c, expected in table.items():
            yield Check(
                group=f"1413 standard near 25 C ({kind})",
                what=f"1413 standard at {temp_c} C, uS/cm",
                expected=expected,
                ours=lambda t=temp_c: float(standard_us_cm(1413.0, t)),
                tolerance=0.003,
                relative=True,
                source="EPA Method 120.1",
                kind=kind,
            )
    for label, (values, tolerance) in BOTTLED.items():
        for temp_c, expected in zip((5, 10, 15, 20, 25, 30, 35), values, strict=False):
            yield Check(
                group="bottled KCl standards, 5-35 C",
                what=f"{label:g} uS/cm standard at {temp_c} C",
                expected=expected,
                ours=lambda k=label, t=temp_c: float(standard_us_cm(k, t)),
                tolerance=tolerance,
                relative=True,
                source="tables printed with conductivity standards",
                kind=Kind.PUBLISHED,
            )


def _salt_rows() -> Iterator[Check]:
    for salt, ((cation, a, anion, b), values) in SINGLE_SALTS.items():
        for strength, expected in zip(SALT_EQ_L, values, strict=True):
            made = water(**{cation: 1000 * a * strength, anion: 1000 * b * strength})
            yield Check(
                group="single salts, 0.0005-0.02 eq/L",
                what=f"{salt} {strength:g} eq/L at 25 C, uS/cm",
                expected=expected,
                ours=lambda w=made: float(ec25_us_cm(w)),
                tolerance=0.02,
                relative=True,
                source=CRC_SALTS,
                kind=Kind.PUBLISHED,
            )


def _limiting_rows() -> Iterator[Check]:
    for ion, expected in LIMITING.items():
        yield Check(
            group="limiting conductivities, table",
            what=f"{ion}, S cm2/eq",
            expected=expected,
            ours=lambda i=ion: LIMITING_S_CM2_EQ[i.lower()],
            tolerance=0.001,
            relative=True,
            source=CRC_IONS,
            kind=Kind.PUBLISHED,
        )
        yield Check(
            group="limiting conductivities, from the diffusion coefficients in use",
            what=f"{ion}, S cm2/eq",
            expected=expected,
            ours=lambda i=ion: MOBILITIES[i].diffusion * D_TO_LAMBDA * CHARGE.get(i, 1),
            tolerance=0.04,
            relative=True,
            source=CRC_IONS,
            kind=Kind.PUBLISHED,
        )


def _water_rows() -> Iterator[Check]:
    for name, values in FOUR_AT_TEMPERATURE.items():
        ph, source = FOUR[name]
        for temp_c, expected in zip(FOUR_TEMPS_C, values, strict=True):
            yield Check(
                group="four waters, 0-35 C",
                what=f"{name} at {temp_c} C, uS/cm",
                expected=expected,
                ours=lambda w=source, p=ph, t=temp_c: float(ec_at_us_cm(with_ph(w, p), float(t))),
                tolerance=0.01,
                relative=True,
                source=L2,
                kind=Kind.COMPUTED,
            )


def _treated_rows() -> Iterator[Check]:
    k = WATER_KG_PER_L
    softened = calcium_and_magnesium_for_sodium(_hard_chalk(), 2.74 * k, 0.195 * k)
    hydrogen = calcium_and_magnesium_for_hydrogen(_hard_chalk(), 2.0 * k, 0.0)
    magnesium = calcium_for_magnesium(_hard_chalk(), 2.0 * k)
    made = (("softened", softened, 647.65), ("hydrogen form, 4 meq", hydrogen, 300.00))
    for what, source, expected in (*made, ("2 mmol Ca for Mg", magnesium, 623.83)):
        yield Check(
            group="hard chalk water, treated",
            what=f"W3 {what}, uS/cm",
            expected=expected,
            ours=lambda w=source: float(ec25_us_cm(w)),
            tolerance=0.01,
            relative=True,
            source=L2,
            kind=Kind.COMPUTED,
        )
        yield Check(
            group="hard chalk water, change in % of raw",
            what=f"W3 {what}, % of raw EC25",
            expected=100 * (expected / 656.64 - 1),
            ours=lambda w=source: 100 * float(ec25_us_cm(w) / ec25_us_cm(_hard_chalk()) - 1),
            tolerance=0.7,
            source=L2,
            kind=Kind.COMPUTED,
        )
    yield Check(
        group="hard chalk water, change in % of raw",
        what="EC drop per meq/kg of alkalinity taken by hydrogen form, uS/cm",
        expected=85.0,
        ours=lambda: float(ec25_us_cm(_hard_chalk()) - ec25_us_cm(hydrogen)) / 4,
        tolerance=5.0,
        source="five methods of EC from ions agree on 80-90",
        kind=Kind.COMPUTED,
    )


def _other_methods() -> Iterator[Check]:
    tables = (
        ("no correction", limiting_us_cm, FOUR_LIMITING, 0.001, CRC_IONS),
        ("SM 2510 B", sm2510_us_cm, FOUR_SM_2510, 0.001, "formula of SM 2510 B"),
        ("McCleskey 2012", mccleskey_us_cm, FOUR_MCCLESKEY, 0.10, "McCleskey et al. 2012"),
    )
    for method, function, values, tolerance, source in tables:
        for name, expected in zip(FOUR, values, strict=True):
            ph, made = FOUR[name]
            as_litres = with_ph(made, ph) if "Mc" in method else _per_litre(made)
            yield Check(
                group=f"four waters by other methods: {method}",
                what=f"{name}, uS/cm",
                expected=expected,
                ours=lambda f=function, w=as_litres: float(f(w)),
                tolerance=tolerance,
                relative=True,
                source=source,
                kind=Kind.COMPUTED,
            )
    for (molality, temp_c), expected in MCCLESKEY_KCL.items():
        made = per_kg_water(k=1000 * molality, cl=1000 * molality)
        yield Check(
            group="KCl by McCleskey 2012",
            what=f"{molality:g} mol/kg at {temp_c} C, uS/cm",
            expected=expected,
            ours=lambda w=made, t=temp_c: float(mccleskey_us_cm(w, float(t))),
            tolerance=0.001,
            relative=True,
            source="McCleskey et al., Geochim. Cosmochim. Acta 77 (2012) 369",
            kind=Kind.COMPUTED,
        )
    yield from _worked_example()


def _per_litre(source: Water) -> Water:
    """The same figures read as per litre: how the formula values were computed."""
    return Water(**{n: getattr(source, n) / WATER_KG_PER_L for n in Water.__struct_fields__})


SM_EXAMPLE_MG_L = {"ca": 55, "mg": 12, "na": 28, "k": 3.2, "hco3": 170, "so4": 77, "cl": 20}
SM_EXAMPLE_MMOL_L = {"ca": 1.38, "mg": 0.49, "na": 1.22, "k": 0.08, "so4": 0.80, "cl": 0.56}


def _sm(method: Callable[[Water, Mapping[str, float]], Floats]) -> Callable[[Water], Floats]:
    """The method with the limiting conductivities as Standard Methods rounds them."""
    return lambda w: method(w, SM_LIMITING_S_CM2_EQ)


def _worked_example() -> Iterator[Check]:
    made = from_mg_l(SM_EXAMPLE_MG_L)
    steps = (
        ("limiting conductivity, uS/cm", 578.11, _sm(limiting_us_cm), 0.2),
        ("ionic strength, mol/L", 0.00767, simple_strength, 0.00002),
        ("activity coefficient", 0.914, lambda w: sm2510_activity(simple_strength(w)), 0.001),
        ("calculated conductivity, uS/cm", 482.9, _sm(sm2510_us_cm), 0.5),
    )
    for what, expected, function, tolerance in steps:
        yield Check(
            group="worked example of SM 2510 B",
            what=what,
            expected=expected,
            ours=lambda f=function: float(f(made)),
            tolerance=tolerance,
            source="Standard Methods 2510 B",
            kind=Kind.MEMORY,
        )
    for ion, expected in SM_EXAMPLE_MMOL_L.items():
        yield Check(
            group="worked example of SM 2510 B",
            what=f"{ion}, mmol/L",
            expected=expected,
            ours=lambda i=ion: float(np.asarray(getattr(made, f"{i}_mmol_l"))),
            tolerance=0.01,
            source="Standard Methods 2510 B",
            kind=Kind.MEMORY,
        )
