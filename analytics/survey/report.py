"""A utility's report beside tests of one's own."""

from __future__ import annotations

from typing import Final

from analytics.survey.given import NAMES, Given
from analytics.survey.words import Reason, Units, reason

APART: Final = 0.25
"""So far apart, relatively, a test and a year's mean are no longer one water."""


def disagreements(tested: Given, report: Given, units: Units) -> tuple[Reason, ...]:
    """Where a test lies far from what the report states: the test is taken."""
    found = []
    stated = report.known()
    for field, reading in tested.known().items():
        other = stated.get(field)
        if other is None or field == "ph":
            continue
        away = max(reading.low - other.high, other.low - reading.high)
        if away <= 0 or abs(reading.middle - other.middle) <= APART * other.middle:
            continue
        text = (
            f"The test finds {NAMES[field]} {_shown(field, reading.middle, units)}, the report "
            f"states {_shown(field, other.middle, units)}. The test is taken; the report may be of "
            "another zone or year, or the main is fed from several sources."
        )
        found.append(reason("report-differs", text))
    return tuple(found)


def _shown(field: str, value: float, units: Units) -> str:
    if field == "alkalinity_meq_l":
        return units.alk(value)
    if field in ("hardness_mmol_l", "calcium_mmol_l", "magnesium_mmol_l"):
        return units.hard(value)
    return f"{value:.0f} uS/cm" if field == "ec25_us_cm" else f"{value:.2f} mmol/L"
