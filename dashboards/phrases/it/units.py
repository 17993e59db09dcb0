"""Italian: units and limits in words."""

from __future__ import annotations

TEXTS = {
    "unit.litres": "{n} litri",
    "unit.gallons": "{n} galloni US",
    "limit.month": "un mese",
    "limit.months": "{n} mesi",
    "limit.days": "{n} giorni",
}
