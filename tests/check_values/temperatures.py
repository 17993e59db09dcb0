"""Conductivity against temperature: ISO 7888, straight lines, KCl, limits, pure water."""

from __future__ import annotations

from collections.abc import Iterator

from analytics.chemistry.conductivity import ec_at_us_cm
from analytics.chemistry.kcl import standard_us_cm
from analytics.chemistry.temperature import ec25_linear, ec25_natural, f25
from analytics.chemistry.water import water
from tests.check_values.checks import Check, Kind

ISO_7888 = "ISO 7888:1985 / EN 27888, f25 for natural waters"
F25 = (
    *(1.918, 1.857, 1.800, 1.745, 1.693, 1.643, 1.596, 1.551, 1.508, 1.467, 1.428, 1.390),
    *(1.354, 1.320, 1.287, 1.256, 1.225, 1.196, 1.168, 1.141, 1.116, 1.091, 1.067, 1.044),
    *(1.021, 1.000, 0.979, 0.959, 0.940, 0.921, 0.903, 0.886, 0.869, 0.853, 0.837, 0.822),
)
"""At 0, 1, ... 35 C, as reprinted in conductivity meter manuals."""
F25_TENTHS = {
    0.1: 1.912, 0.2: 1.906, 0.3: 1.899, 5.1: 1.638, 10.1: 1.424, 10.2: 1.420, 10.3: 1.416,
    15.1: 1.253, 20.1: 1.113, 20.2: 1.111, 20.3: 1.108, 25.1: 0.998, 25.2: 0.996, 25.3: 0.994,
    30.1: 0.902, 35.1: 0.820, 35.2: 0.819, 35.3: 0.817,
}  # fmt: skip

KCL_PERCENT_PER_K = {20: 1.94, 35: 1.99}
"""The same appendix prints 1.94 at 15 and 30 C too, where the CRC table has 1.894 and 1.966."""

IAPWS = "IAPWS guideline on electrolytic conductivity of water (1990), by iapws 1.5.5"
PURE_US_CM = {
    0: 0.01155, 5: 0.01593, 10: 0.02207, 15: 0.03038, 20: 0.04124, 25: 0.05499,
    30: 0.07197, 40: 0.11669, 50: 0.17736, 60: 0.25557, 80: 0.46942, 95: 0.68321, 100: 0.76496,
}  # fmt: skip


def rows() -> Iterator[Check]:
    """Every temperature check."""
    whole = dict(enumerate(F25))
    for what, table in (("whole degrees", whole), ("tenths", F25_TENTHS)):
        for temp_c, expected in table.items():
            yield Check(
                group=f"f25 of natural waters, {what}",
                what=f"f25 at {temp_c:g} C",
                expected=expected,
                ours=lambda t=temp_c: float(f25(t)),
                tolerance=0.001,
                source=ISO_7888,
                kind=Kind.PUBLISHED,
            )
    yield from _formulas()
    for temp_c, expected in KCL_PERCENT_PER_K.items():
        yield Check(
            group="linear coefficient of the 1413 KCl standard",
            what=f"between {temp_c} and 25 C, %/K",
            expected=expected,
            ours=lambda t=temp_c: 100 * (float(standard_us_cm(1413.0, t)) / 1413 - 1) / (t - 25),
            tolerance=0.02,
            source="appendix of a conductivity instrument's manual",
            kind=Kind.PUBLISHED,
        )
    for temp_c, expected in PURE_US_CM.items():
        yield Check(
            group="pure water at 25 C" if temp_c == 25 else "pure water, 0-100 C",
            what=f"at {temp_c} C, uS/cm",
            expected=expected,
            ours=lambda t=temp_c: float(ec_at_us_cm(water(), float(t))),
            tolerance=0.005 if temp_c == 25 else 0.05,
            relative=True,
            source=IAPWS,
            kind=Kind.COMPUTED,
        )


def _formulas() -> Iterator[Check]:
    definition = "definition"
    yield Check(
        group="compensation formulas",
        what="500 uS/cm at 15 C, linear 2.0 %/K",
        expected=625.0,
        ours=lambda: float(ec25_linear(500.0, 15.0, 2.0)),
        tolerance=1e-9,
        source=definition,
        kind=Kind.COMPUTED,
    )
    yield Check(
        group="compensation formulas",
        what="500 uS/cm at 10 C by the natural-water curve",
        expected=714.0,
        ours=lambda: float(ec25_natural(500.0, 10.0)),
        tolerance=0.5,
        source=ISO_7888,
        kind=Kind.COMPUTED,
    )
    yield Check(
        group="limit at 20 C and at 25 C",
        what="2500 uS/cm at 20 C as EC25",
        expected=2790.0,
        ours=lambda: float(ec25_natural(2500.0, 20.0)),
        tolerance=1.0,
        source="98/83/EC (2500 at 20 C) and German TrinkwV 2023 (2790 at 25 C)",
        kind=Kind.PUBLISHED,
    )
    yield Check(
        group="linear coefficient of natural waters",
        what="mean slope of the curve 0-30 C, %/K",
        expected=1.87,
        ours=lambda: float((1 / f25(30.0) - 1 / f25(0.0)) / 30 * 100),
        tolerance=0.11,
        source="Hayashi, Environ. Monit. Assess. 96 (2004) 119: 1.75-1.98",
        kind=Kind.PUBLISHED,
    )
