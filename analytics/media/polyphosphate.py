"""Polyphosphate dosing: keeps hardness in solution for a while; hardness stays as it is."""

from __future__ import annotations

from analytics.medium import ALWAYS, Caution, Medium

MEDIUM = Medium(
    name="polyphosphate",
    spoken="polyphosphate dosing",
    does="sequesters calcium and magnesium with a few mg/L of polyphosphate; hardness stays",
    standing=(
        Caution(
            code="films",
            text="Films and sludge can block the water passages of an espresso machine, as small "
            "as 0.5 mm: not advised before one.",
        ),
        Caution(
            code="not-visible",
            text="Conductivity and drop tests tell nothing about the dose: only litres and months "
            "count.",
        ),
        *ALWAYS,
    ),
)
