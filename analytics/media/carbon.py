"""Activated carbon: takes chlorine and taste; hardness and conductivity stay as they are."""

from __future__ import annotations

from analytics.medium import ALWAYS, Caution, Medium

MEDIUM = Medium(
    name="carbon",
    standing=(
        Caution(code="not-visible", variant="carbon"),
        *ALWAYS,
    ),
)
