"""Texts that may read in another language as they do in English: signs, names, words in common."""

from __future__ import annotations

ALIKE_TEXTS = frozenset(
    {
        "Alarm",
        "Alarme",
        "CSV",
        "EC25",
        "KH",
        "LastLitre {version}",
        "Modbus",
        "PDF",
        "Service",
        "SI",
        "TDS (EC25 × {factor})",
        "pH",
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
