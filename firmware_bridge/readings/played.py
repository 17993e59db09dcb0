"""Rows of a recording that plays, as what a meter said. Pure."""

from __future__ import annotations

from typing import TypeAlias

import msgspec

from analytics.samples import CHANNELS
from firmware_bridge.readings.value_driver import Heard

Played: TypeAlias = tuple[int, float | None, float | None, float | None, float | None, int]

_read: msgspec.json.Decoder[Played] = msgspec.json.Decoder(Played)


class PlayedDecoder:
    """Lines of a `PlayedLine`."""

    complaint = ""

    def __init__(self) -> None:
        self._rest = b""

    @property
    def counts(self) -> dict[str, int]:
        """Nothing is refused here: the file's reader has done that."""
        return {}

    def opened(self) -> None:
        """A new line begins."""
        self._rest = b""

    def decode(self, chunk: bytes) -> list[Heard]:
        """Each line as one row."""
        *lines, self._rest = (self._rest + chunk).split(b"\n")
        return [_heard(_read.decode(line)) for line in lines]


def _heard(played: Played) -> Heard:
    at_ms, *values, pulses = played
    named = zip(CHANNELS, values, strict=True)
    return Heard(
        at_ms=at_ms,
        values={name: value for name, value in named if value is not None},
        pulses=pulses if pulses >= 0 else None,
    )
