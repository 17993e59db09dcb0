"""A survey as JSON: base units in the names of keys, the same keys in every release of a schema."""

from __future__ import annotations

import math
from typing import Any, Final

import msgspec

from analytics.survey.plan import Survey

SCHEMA: Final = "lastlitre.survey/2"
FIGURES: Final = 7
"""Significant figures kept: more would only be noise of the arithmetic."""


def survey_json(found: Survey, sentence: str) -> str:
    """The survey as indented JSON; absent things are null, shares lie between 0 and 1."""
    plain: dict[str, Any] = msgspec.to_builtins(found)
    whole = {"schema": SCHEMA, "sentence": sentence, **_rounded(plain)}
    return msgspec.json.format(msgspec.json.encode(whole), indent=2).decode()


def _rounded(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _rounded(each) for key, each in value.items()}
    if isinstance(value, list | tuple):
        return [_rounded(each) for each in value]
    if isinstance(value, float) and math.isfinite(value):
        return float(f"{value:.{FIGURES}g}")
    return value
