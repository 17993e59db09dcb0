"""Polyphosphate dosing: keeps hardness in solution for a while; hardness stays as it is."""

from __future__ import annotations

from analytics.medium import ALWAYS, Caution, Medium

MEDIUM = Medium(
    name="polyphosphate",
    standing=(
        Caution(code="films"),
        Caution(code="not-visible", variant="dose"),
        *ALWAYS,
    ),
)
