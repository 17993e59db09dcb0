"""Texts that may read in another language as they do in English: signs, names, words in common."""

from __future__ import annotations

ALIKE_TEXTS = frozenset(
    {
        "Alarm",
        "Alarme",
        "Box",
        "CSV",
        "Calcium",
        "Date",
        "Dates",
        "EC25",
        "File",
        "Journal",
        "KH",
        "LastLitre {version}",
        "Litres",
        "Login",
        "Medium",
        "Modbus",
        "Name",
        "PDF",
        "Pages",
        "Password",
        "Region",
        "SHA-256",
        "SI",
        "Service",
        "Sites",
        "TDS (EC25 × {factor})",
        "Tokens",
        "Topic",
        "Webhooks",
        "calcium",
        "litres",
        "live",
        "machine",
        "membrane",
        "meters calibrate",
        "no",
        "pH",
        "polyphosphate",
        "port {port}",
        "sodium",
        "turbine",
        "{n} litres",
        "{path}: {size} kB",
    }
)
"""By the text, in any language."""

ALIKE: frozenset[str] = frozenset(
    {
        "status.counted",
        "status.reason",
        "scan.meter",
    }
)
"""By the key, in any language."""
