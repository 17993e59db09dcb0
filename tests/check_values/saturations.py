"""Calcium carbonate: constants, pocket formulas, index and precipitation of four waters."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np

from analytics.chemistry import carbonate, saturation
from analytics.chemistry.species import (
    HCO3_LOG_K,
    PHREEQC_386,
    PLUMMER_BUSENBERG_1982,
    Constants,
    log_k,
)
from analytics.chemistry.treatment import (
    calcium_and_magnesium_for_hydrogen,
    calcium_and_magnesium_for_sodium,
    calcium_for_magnesium,
)
from analytics.chemistry.water import WATER_KG_PER_L, Water
from analytics.samples import Floats
from tests.check_values.checks import Check, Kind
from tests.check_values.tap_waters import FOUR

P_AND_B = "Plummer & Busenberg, Geochim. Cosmochim. Acta 46 (1982) 1011"
L1 = "PHREEQC 3.7.3, its phreeqc.dat"
L2 = "PHREEQC 3.8.6, phreeqc.dat 2024-05-22"

TEMPS_C = (0, 5, 10, 15, 20, 25, 30, 40, 50, 60, 70, 80, 90, 95, 125)
PK1 = (
    *(6.5786, 6.5163, 6.4633, 6.4188, 6.3819, 6.3519, 6.3281, 6.2974),
    *(6.2858, 6.2903, 6.3084, 6.3382, 6.3781, 6.4013, 6.5797),
)
PK2 = (
    *(10.6286, 10.5544, 10.4879, 10.4284, 10.3756, 10.3289, 10.2879, 10.2217),
    *(10.1744, 10.1438, 10.1281, 10.1256, 10.1350, 10.1439, 10.2466),
)
PKS_CALCITE = (
    *(8.3814, 8.3942, 8.4105, 8.4302, 8.4533, 8.4798, 8.5098, 8.5797),
    *(8.6628, 8.7588, 8.8675, 8.9886, 9.1217, 9.1927, 9.6778),
)
PKS_ARAGONITE = (
    *(8.2180, 8.2350, 8.2553, 8.2790, 8.3059, 8.3361, 8.3695, 8.4462),
    *(8.5356, 8.6376, 8.7519, 8.8783, 9.0163, 9.0897, 9.5879),
)
PKS_VATERITE = (
    *(7.7427, 7.7710, 7.8022, 7.8363, 7.8734, 7.9134, 7.9563, 8.0510),
    *(8.1574, 8.2753, 8.4046, 8.5451, 8.6966, 8.7764, 9.3096),
)
PK_HENRY = (
    *(1.1084, 1.1921, 1.2694, 1.3408, 1.4069, 1.4679, 1.5244, 1.6249),
    *(1.7108, 1.7840, 1.8461, 1.8987, 1.9427, 1.9618, 2.0425),
)
DEBYE_A = (
    *(0.4909, 0.4944, 0.4982, 0.5022, 0.5064, 0.5108, 0.5155, 0.5255),
    *(0.5365, 0.5485, 0.5616, 0.5758, 0.5912, 0.5993, 0.6555),
)
PKS_CALCITE_386 = (
    *(8.3900, 8.3925, 8.4032, 8.4216, 8.4473, 8.4800, 8.5192, 8.6162),
    *(8.7360, 8.8766, 9.0360, 9.2128, 9.4055, 9.5074, 10.1865),
)
PK_WATER_386 = (
    *(14.9385, 14.7296, 14.5314, 14.3433, 14.1646, 13.9948, 13.8333, 13.5334),
    *(13.2617, 13.0153, 12.7916, 12.5888, 12.4048, 12.3195, 11.8897),
)

# The engine lowers these two constants for 2.3 atm at 125 C by 0.001; ours are those of 1 atm.

HOT_C = (25, 60, 95, 125)
FOUR_L1 = {
    "W1 soft": (
        (7.2000, -1.6161, -1.6161, -0.09497),
        (7.1250, -1.2379, -1.1635, -0.09546),
        (7.1821, -0.7662, -0.7488, -0.08713),
        (7.2445, -0.3534, -0.3948, -0.05300),
    ),
    "W2 medium": (
        (7.8000, 0.2377, 0.2377, 0.05283),
        (7.6268, 0.5009, 0.6641, 0.15710),
        (7.5493, 0.8153, 1.0349, 0.35511),
        (7.5433, 1.1441, 1.3556, 0.57412),
    ),
    "W3 hard chalk": (
        (7.3000, 0.3198, 0.3198, 0.26704),
        (7.2041, 0.6583, 0.7512, 0.61780),
        (7.2364, 1.0784, 1.1370, 1.09888),
        (7.3269, 1.4909, 1.4669, 1.50968),
    ),
    "W4 hard sulphate": (
        (7.6000, 0.3930, 0.3930, 0.16080),
        (7.4503, 0.6741, 0.8163, 0.35755),
        (7.4027, 1.0130, 1.1885, 0.67328),
        (7.4248, 1.3617, 1.5092, 0.97116),
    ),
}
FOUR_L2 = {
    "W1 soft": (
        (7.2000, -1.6135, -1.6135, -0.09487),
        (7.1242, -1.1210, -1.0459, -0.08609),
        (7.1785, -0.4667, -0.4458, -0.05195),
        (7.2365, 0.1099, 0.0757, 0.01532),
    ),
    "W2 medium": (
        (7.8000, 0.2472, 0.2472, 0.05544),
        (7.6268, 0.6188, 0.7821, 0.20046),
        (7.5525, 1.0971, 1.3171, 0.47741),
        (7.5491, 1.5517, 1.7695, 0.73718),
    ),
    "W3 hard chalk": (
        (7.3000, 0.3367, 0.3367, 0.28285),
        (7.1991, 0.7709, 0.8686, 0.73030),
        (7.2233, 1.3180, 1.3900, 1.31577),
        (7.3088, 1.8145, 1.8063, 1.74477),
    ),
    "W4 hard sulphate": (
        (7.6000, 0.4064, 0.4064, 0.16843),
        (7.4485, 0.7923, 0.9362, 0.43103),
        (7.4004, 1.2853, 1.4658, 0.83728),
        (7.4234, 1.7495, 1.9067, 1.15066),
    ),
}
"""pH, SI, SI at the 25 C pH, CCPP mmol/kg water; heated closed from 25 C."""

SM_2330 = {
    ("W1 soft", 25): (0.0016, 8.8085, 10.4171),
    ("W1 soft", 60): (0.0016, 8.3532, 9.5064),
    ("W2 medium", 25): (0.00595, 7.5359, 7.2718),
    ("W2 medium", 60): (0.00595, 7.0879, 6.3758),
    ("W3 hard chalk", 25): (0.00985, 6.9526, 6.6052),
    ("W3 hard chalk", 60): (0.00985, 6.5059, 5.7117),
    ("W4 hard sulphate", 25): (0.0168, 7.1494, 6.6988),
    ("W4 hard sulphate", 60): (0.0168, 6.7079, 5.8159),
}
"""Ionic strength, pHs, Ryznar index."""
LANGELIER = {25: (8.231, -0.731, 8.963), 82: (7.234, 0.266, 6.968)}
"""pH 7.5, TDS 320, Ca 150, alkalinity 34 mg/L CaCO3: pHs, index, Ryznar index."""
SM_2330_SAME = {25: (8.0466, -0.5466, 8.5933), 82: (7.3441, 0.1559, 7.1882)}


def rows() -> Iterator[Check]:
    """Every saturation check."""
    yield from _constant_rows()
    yield from _four_rows(FOUR_L1, PLUMMER_BUSENBERG_1982, L1)
    yield from _four_rows(FOUR_L2, PHREEQC_386, L2)
    yield from _treated_rows()
    yield from _formula_rows()


def _constant_rows() -> Iterator[Check]:
    tables: tuple[tuple[str, tuple[float, ...], Callable[[float], Floats], str], ...] = (
        ("pK1", PK1, carbonate.pk1, P_AND_B),
        ("pK2", PK2, carbonate.pk2, P_AND_B),
        ("pKs calcite", PKS_CALCITE, _calcite(PLUMMER_BUSENBERG_1982), P_AND_B),
        ("pKs aragonite", PKS_ARAGONITE, carbonate.pks_aragonite, P_AND_B),
        ("pKs vaterite", PKS_VATERITE, carbonate.pks_vaterite, P_AND_B),
        ("pK Henry", PK_HENRY, carbonate.pk_henry, P_AND_B),
        ("Debye-Hueckel A of SM 2330", DEBYE_A, carbonate.debye_a_simple, "Standard Methods 2330"),
        ("pKs calcite, PHREEQC 3.8.6", PKS_CALCITE_386, _calcite(PHREEQC_386), L2),
        ("pK water", PK_WATER_386, carbonate.pk_water, L2),
    )
    for name, table, function, source in tables:
        for temp_c, expected in zip(TEMPS_C, table, strict=True):
            yield Check(
                group=f"{name}, 0-125 C",
                what=f"{name} at {temp_c} C",
                expected=expected,
                ours=lambda f=function, t=temp_c: float(f(float(t))),
                tolerance=0.002 if temp_c == 125 and source == L2 else 0.0005,
                source=source,
                kind=Kind.COMPUTED,
            )


def _calcite(constants: Constants) -> Callable[[float], Floats]:
    return lambda t: carbonate.pks_calcite(t, constants)


def _four_rows(
    table: dict[str, tuple[tuple[float, ...], ...]], constants: Constants, engine: str
) -> Iterator[Check]:
    for name, states in table.items():
        ph, source = FOUR[name]
        made = carbonate.with_ph(source, ph, 25.0, constants)
        for temp_c, (hot_ph, index, fixed, ccpp) in zip(HOT_C, states, strict=True):
            quantities: tuple[tuple[str, float, Callable[..., Floats]], ...] = (
                ("pH", hot_ph, carbonate.ph),
                ("SI", index, saturation.si),
                ("SI at the 25 C pH", fixed, _fixed(ph)),
                ("CCPP, mmol/kg", ccpp, _ccpp_kg),
            )
            for what, expected, function in quantities:
                yield Check(
                    group=f"{what} of four waters heated closed, {engine}",
                    what=f"{name} at {temp_c} C",
                    expected=expected,
                    ours=lambda f=function, w=made, t=temp_c: float(f(w, float(t), constants)),
                    tolerance=0.03 if temp_c == 25 else 0.05,
                    source=engine,
                    kind=Kind.COMPUTED,
                )


def _fixed(ph: float) -> Callable[[Water, float, Constants], Floats]:
    return lambda w, t, constants: saturation.si_at_fixed_ph(w, ph, t, constants)


def _ccpp_kg(source: Water, temp_c: float, constants: Constants) -> Floats:
    return saturation.ccpp_per_kg_water(saturation.ccpp_mmol_l(source, temp_c, constants))


def _treated_rows() -> Iterator[Check]:
    ph, source = FOUR["W3 hard chalk"]
    raw, k = carbonate.with_ph(source, ph), WATER_KG_PER_L
    states = (
        ("softened", calcium_and_magnesium_for_sodium(raw, 2.74 * k, 0.195 * k), 7.3211, -2.0525),
        ("hydrogen 4 meq", calcium_and_magnesium_for_hydrogen(raw, 2 * k, 0), 5.5770, -2.6480),
        ("hydrogen 2 meq", calcium_and_magnesium_for_hydrogen(raw, k, 0), 6.3676, -0.9891),
        ("Ca for Mg 2 mmol", calcium_for_magnesium(raw, 2 * k), 7.3002, -0.2292),
    )
    for what, made, expected_ph, expected_si in states:
        for quantity, expected, function in (
            ("pH", expected_ph, carbonate.ph),
            ("SI", expected_si, saturation.si),
        ):
            yield Check(
                group=f"{quantity} of the hard chalk water behind media, {L2}",
                what=f"W3 {what}",
                expected=expected,
                ours=lambda f=function, w=made: float(f(w)),
                tolerance=0.03,
                source=L2,
                kind=Kind.COMPUTED,
            )


def _formula_rows() -> Iterator[Check]:
    for (name, temp_c), (strength, phs, index) in SM_2330.items():
        ph, source = FOUR[name]
        made = lambda w=source, p=ph, t=temp_c, i=strength: float(_sm_2330(w, p, t, i))  # noqa: E731
        for what, expected, ours in (
            ("pHs", phs, made),
            ("SI", ph - phs, lambda m=made, p=ph: p - m()),
            ("Ryznar", index, lambda m=made, p=ph: float(saturation.ryznar(m(), p))),
        ):
            yield Check(
                group="rigorous pHs without pairs, SM 2330 B",
                what=f"{name} at {temp_c} C, {what}",
                expected=expected,
                ours=ours,
                tolerance=0.002,
                source="Standard Methods 2330 B with constants of Plummer & Busenberg 1982",
                kind=Kind.COMPUTED,
            )
    for group, source_name, table, function, tolerance in (
        ("simple Langelier formula", "operator's text, worked example", LANGELIER, _simple, 0.005),
        ("the same water by SM 2330 B", "Standard Methods 2330 B", SM_2330_SAME, _same, 0.002),
    ):
        for temp_c, (phs, index, ryznar) in table.items():
            for what, expected, turn in (
                ("pHs", phs, lambda p: p),
                ("index", index, lambda p: 7.5 - p),
                ("Ryznar", ryznar, lambda p: float(saturation.ryznar(p, 7.5))),
            ):
                yield Check(
                    group=group,
                    what=f"pH 7.5, TDS 320, Ca 150, alkalinity 34 at {temp_c} C, {what}",
                    expected=expected,
                    ours=lambda f=function, t=temp_c, g=turn: g(float(f(t))),
                    tolerance=tolerance,
                    source=source_name,
                    kind=Kind.PUBLISHED if function is _simple else Kind.COMPUTED,
                )
    yield Check(
        group="minimum of pK2",
        what="temperature of the lowest pK2, C",
        expected=75.0,
        ours=lambda: float(_lowest(HCO3_LOG_K)),
        tolerance=3.0,
        source=P_AND_B,
        kind=Kind.COMPUTED,
    )


def _lowest(form: tuple[float, float, float, float, float, float]) -> Floats:
    t = np.linspace(20.0, 120.0, 401)
    return np.asarray(t[np.argmin(log_k(form, t))])


def _sm_2330(source: Water, ph: float, temp_c: float, strength: float) -> Floats:
    per_kg = 1000 * WATER_KG_PER_L
    hco3 = saturation.sm2330_bicarbonate_mol_l(
        source.alkalinity_meq_l / per_kg, ph, temp_c, strength
    )
    return saturation.sm2330_phs(temp_c, source.ca_mmol_l / per_kg, hco3, strength)


def _simple(temp_c: float) -> Floats:
    return saturation.langelier_phs(temp_c, 320.0, 150.0, 34.0)


def _same(temp_c: float) -> Floats:
    strength = 320 / 40_000
    hco3 = saturation.sm2330_bicarbonate_mol_l(34 / 50_043, 7.5, temp_c, strength)
    return saturation.sm2330_phs(temp_c, 150 / 100_086, hco3, strength)
