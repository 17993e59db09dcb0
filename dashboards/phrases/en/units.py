"""English: units and limits in words."""

from __future__ import annotations

TEXTS = {
    "unit.litres": "{n} litres",
    "unit.gallons": "{n} US gallons",
    "limit.month": "one month",
    "limit.months": "{n} months",
    "limit.days": "{n} days",
}
