"""Plain rows and set-ups for tests: a cafe that draws in the day and rests at night."""

from __future__ import annotations

import numpy as np

from analytics.samples import (
    DAY_MS,
    CartridgeFitted,
    DropTest,
    Point,
    Rows,
    UtilityReport,
)
from analytics.setup import CapacityKind, LineSetup

MONDAY_MS = 1_715_558_400_000  # 2024-05-13T00:00:00Z
DH = 0.178326


def hydrogen_line(**changes: object) -> LineSetup:
    """A hydrogen cartridge with a probe pair, 3600 dH*L carbonate, 20 % bypass."""
    settings: dict[str, object] = {
        "line_id": "bar",
        "medium": "hydrogen",
        "capacity_mmol": 3600.0 * DH,
        "capacity_kind": CapacityKind.CARBONATE,
        "bypass": 0.2,
        "inlet_probe": True,
        "pulses_per_l": 1000.0,
    }
    return LineSetup(**(settings | changes))  # type: ignore[arg-type]


def cafe_rows(days: int, seed: int, litres_a_day: float = 40.0) -> Rows:
    """Rows of some days: draws of a quarter litre between 7 and 18 o'clock, a row a minute else."""
    rng = np.random.default_rng(seed)
    at: list[int] = []
    pulses: list[int] = []
    for day in range(days):
        begin = MONDAY_MS + day * DAY_MS
        at += range(begin, begin + DAY_MS, 60_000)
        pulses += [0] * 1440
        count = rng.poisson(litres_a_day / 0.25)
        for second in np.sort(rng.uniform(7 * 3600, 18 * 3600, count)).astype(int).tolist():
            for part in range(3):
                at.append(begin + (second + 4 * part) * 1000 + 500)
                pulses.append(int(rng.integers(60, 110)))
    order = np.argsort(at, kind="stable")
    times = np.array(at, dtype=np.int64)[order]
    keep = np.concatenate(([True], np.diff(times) > 0))
    times, counted = times[keep], np.array(pulses, dtype=np.int64)[order][keep]
    count = len(times)
    temp = 16.0 + rng.normal(0.0, 0.3, count)
    return Rows(
        at_ms=times,
        outlet_us_cm=np.round(330.0 + rng.normal(0.0, 2.0, count), 1),
        outlet_temp_c=np.round(temp, 2),
        inlet_us_cm=np.round(560.0 + rng.normal(0.0, 2.0, count), 1),
        inlet_temp_c=np.round(temp, 2),
        pulses=counted,
        flags=np.zeros(count, dtype=np.int64),
    )


def usual_facts() -> tuple[CartridgeFitted, UtilityReport, DropTest, DropTest]:
    """A new cartridge, the utility's report, and two drop tests on the first morning."""
    morning = MONDAY_MS + 6 * 3_600_000
    return (
        CartridgeFitted(at_ms=morning, event_id="a", cartridge_id="HS-1", litres_before=0.0),
        UtilityReport(
            at_ms=morning, event_id="b", hardness_mmol_l=14 * DH, alkalinity_meq_l=20 * DH
        ),
        DropTest(
            at_ms=morning + 1,
            event_id="c",
            point=Point.RAW,
            hardness_mmol_l=15 * DH,
            alkalinity_meq_l=20 * DH,
        ),
        DropTest(
            at_ms=morning + 7_200_000,
            event_id="d",
            point=Point.BLENDED,
            hardness_mmol_l=7 * DH,
            alkalinity_meq_l=4 * DH,
        ),
    )
