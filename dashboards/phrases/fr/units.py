"""French: units and limits in words."""

from __future__ import annotations

TEXTS = {
    "unit.litres": "{n} litres",
    "unit.gallons": "{n} gallons US",
    "limit.month": "un mois",
    "limit.months": "{n} mois",
    "limit.days": "{n} jours",
}
