"""German: units and limits in words."""

from __future__ import annotations

TEXTS = {
    "unit.litres": "{n} Liter",
    "unit.gallons": "{n} US-Gallonen",
    "limit.month": "einen Monat",
    "limit.months": "{n} Monate",
    "limit.days": "{n} Tage",
}
