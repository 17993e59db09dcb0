"""Texts that may read in another language as they do in English: signs, names, words in common."""

from __future__ import annotations

ALIKE_TEXTS = frozenset(
    {
        "Alarm",
        "Alarme",
        "Box",
        "CSV",
        "Calcium",
        "EC25",
        "File",
        "KH",
        "LastLitre {version}",
        "Login",
        "Medium",
        "Modbus",
        "Name",
        "PDF",
        "Password",
        "Region",
        "SHA-256",
        "SI",
        "Service",
        "TDS (EC25 × {factor})",
        "Tokens",
        "Topic",
        "Webhooks",
        "live",
        "meters calibrate",
        "no",
        "pH",
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
