"""Activated carbon: takes chlorine and taste; hardness and conductivity stay as they are."""

from __future__ import annotations

from analytics.medium import ALWAYS, Caution, Medium

MEDIUM = Medium(
    name="carbon",
    spoken="carbon",
    does="takes chlorine; hardness, alkalinity and conductivity stay",
    standing=(
        Caution(
            code="not-visible",
            text="Conductivity tells nothing about carbon: only litres and months count.",
        ),
        *ALWAYS,
    ),
)
