"""Plain numbers by channel as what a meter said. Pure."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Final

import msgspec

from firmware_bridge.readings.channels import BY_WORD, COUNT
from firmware_bridge.readings.value_driver import Heard

PULSES: Final = "flow_pulses"
"""Counts since the message before, for meters that keep no running count."""
WORDS: Final = (*BY_WORD, COUNT, PULSES)
LARGEST: Final = 2.0**53
"""Beyond, a floating-point number is no exact count."""


class Units(msgspec.Struct, frozen=True, kw_only=True):
    """What plain numbers are in: (base units to one, base units at 0)."""

    conductivity: tuple[float, float] = (1.0, 0.0)
    temperature: tuple[float, float] = (1.0, 0.0)

    def based(self, word: str, value: float) -> float:
        """A number of a channel in its base unit."""
        factor, shift = self.conductivity if word.endswith("conductivity") else self.temperature
        return value * factor + shift


def heard(numbers: Mapping[str, float], units: Units, at_ms: int | None = None) -> Heard:
    """What these numbers, by channel, say. A count that is none is passed over."""
    values = {
        BY_WORD[word].column: units.based(word, number)
        for word, number in numbers.items()
        if word in BY_WORD
    }
    return Heard(
        values=values,
        count=_whole(numbers.get(COUNT)),
        pulses=_whole(numbers.get(PULSES)),
        at_ms=at_ms,
    )


def number_in(text: str) -> float:
    """A number as people and devices write it, with a point or a comma; raises ValueError."""
    cleaned = text.strip().replace(" ", "")
    if "," in cleaned and "." not in cleaned:
        cleaned = cleaned.replace(",", ".")
    if "_" in cleaned:
        raise ValueError(f"{text!r} is no number")
    value = float(cleaned)
    if not math.isfinite(value):
        raise ValueError(f"{text!r} is no number")
    return value


def _whole(value: float | None) -> int | None:
    return round(value) if value is not None and 0.0 <= value <= LARGEST else None
