"""A utility's report beside tests of one's own."""

from __future__ import annotations

from typing import Final

from analytics.survey.given import Given
from analytics.survey.words import Reason, reason

APART: Final = 0.25
"""So far apart, relatively, a test and a year's mean are no longer one water."""


def disagreements(tested: Given, report: Given) -> tuple[Reason, ...]:
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
        unit = _UNITS.get(field, "amount_mmol_l")
        values = {f"tested_{unit}": reading.middle, f"stated_{unit}": other.middle}
        found.append(reason("report-differs", "", values, names={"what": (field,)}))
    return tuple(found)


_UNITS: Final = {
    "hardness_mmol_l": "mmol_l",
    "calcium_mmol_l": "mmol_l",
    "magnesium_mmol_l": "mmol_l",
    "alkalinity_meq_l": "meq_l",
    "ec25_us_cm": "us_cm",
}
"""Units that a reader chooses for hardness and alkalinity; salts are told by their amount."""
