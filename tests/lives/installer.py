"""What the installer writes down: the setting, the drop tests, the probes in raw water."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from .happenings import stamp
from .plan import Plan
from .waters import DH_PER_MEQ, DH_PER_MMOL

Water = Callable[[str, float], np.ndarray]
"""Point (`raw` or `treated`) and seconds -> composition row in `COLUMNS` order."""


def drops(truth_dh: float, rng: np.random.Generator) -> int:
    """Drops at the colour change: a quarter of a drop uncertain, now and then a whole one out."""
    count = int(np.ceil(truth_dh + rng.normal(0, 0.25)))
    if rng.random() < 0.04:
        count += 1 if rng.random() < 0.5 else -1
    return max(count, 0)


def drop_tests(
    plan: Plan, water: Water, record_end_s: float, rng: np.random.Generator
) -> list[dict[str, object]]:
    """Raw and blended water at the installation, and at later visits if there are any."""
    moments = [(1800.0, "raw"), (7200.0, "treated")]
    visits = int(rng.choice([0, 0, 0, 1, 1, 2, 3]))
    for share in np.sort(rng.uniform(0.1, 0.98, visits)):
        day = np.floor(share * record_end_s / 86400)
        local_h = float(rng.integers(9, 15))
        moment = day * 86400 + (local_h - plan.utc_offset_h - plan.install.hour) * 3600
        if not 86400 < moment < record_end_s:
            continue
        moments.append((moment, "treated"))
        if rng.random() < 0.55:
            moments.append((moment + 600, "raw"))
    return [_drop_test(plan, water, moment, point, rng) for moment, point in moments]


def _drop_test(
    plan: Plan, water: Water, moment: float, point: str, rng: np.random.Generator
) -> dict[str, object]:
    row = water(point, moment)
    return {
        "time": stamp(plan.install, moment),
        "point": point,
        "total_hardness_dH": drops(float(row[0] + row[1]) * DH_PER_MMOL, rng),
        "carbonate_hardness_dH": drops(float(row[7]) * DH_PER_MEQ, rng),
    }


def utility_report(plan: Plan, rng: np.random.Generator) -> dict[str, float]:
    """The yearly report of the utility: one error of 7 % for all, a little more for each."""
    common = 1 + float(np.clip(rng.normal(0, 0.07), -0.18, 0.18))
    mean = {
        key: (0.7 * getattr(plan.waters[0], key) + 0.3 * getattr(plan.waters[1], key)) * common
        for key in ("ca", "mg", "alk")
    }
    each = {key: value * (1 + float(rng.normal(0, 0.015))) for key, value in mean.items()}
    calcium, magnesium = round(each["ca"] * 40.078), round(each["mg"] * 24.305, 1)
    return {
        "total_hardness_dH": round((calcium / 40.078 + magnesium / 24.305) * DH_PER_MMOL, 1),
        "acid_capacity_mmol_L": round(each["alk"], 2),
        "calcium_mg_L": calcium,
        "magnesium_mg_L": magnesium,
    }


def site(
    plan: Plan,
    tests: list[dict[str, object]],
    report: dict[str, float],
    reading: dict[str, object] | None,
) -> dict[str, object]:
    """The site file."""
    told: dict[str, object] = {
        "case": plan.name,
        "medium": plan.medium,
        "capacity_basis": plan.kind,
        "rated_capacity_dH_litres": plan.rated_dh_l,
        "bypass_setpoint": plan.bypass_set,
        "k_factor_pulses_per_litre": plan.k_factor,
        "install_date": stamp(plan.install, 0),
        "utc_offset_hours": plan.utc_offset_h,
        "layout": plan.layout,
        "utility_report": report,
        "drop_tests": tests,
    }
    return told if reading is None else told | {"raw_water_reading": reading}
