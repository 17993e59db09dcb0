"""Messages with JSON in them as what a meter said: each channel by its path. Pure.

{"probe": {"ec": [557.1, 662.0]}, "t": "2026-03-02T09:30:00Z"}
outlet_conductivity = "probe.ec.0"        time = "t"
"""

from __future__ import annotations

import datetime as dt
import math
from collections import Counter
from collections.abc import Mapping
from typing import Any, Final

import msgspec

from firmware_bridge.readings.numbers import PULSES, Units, heard, number_in
from firmware_bridge.readings.value_driver import Heard

WHOLE: Final = "."
"""The path of a message that is the number itself."""
DEEPEST: Final = 8
SHOWN: Final = 60
MS_FROM: Final = 1e11
"""A time from here on counts milliseconds, before it seconds, since 1970."""


class Letter(msgspec.Struct, frozen=True, kw_only=True):
    """One message as its link puts it: payload, whether it was retained, whether it was sent
    again; where the payload was too long, its bytes are in `oversize` and it is not here."""

    p: str = ""
    r: bool = False
    d: bool = False
    oversize: int = 0


class LetterDecoder:
    """Messages by a map of paths; `time` is the path of the message's own time."""

    def __init__(
        self, paths: Mapping[str, str], units: Units | None = None, time: str | None = None
    ) -> None:
        self._paths = dict(paths)
        self._units = units or Units()
        self._time = time
        self._rest = b""
        self._counts: Counter[str] = Counter()
        self.complaint = ""

    @property
    def counts(self) -> dict[str, int]:
        """What was refused so far."""
        return dict(self._counts)

    def opened(self) -> None:
        """A new message begins."""
        self._rest = b""

    def decode(self, chunk: bytes) -> list[Heard]:
        """Each message that can be used as one row."""
        *lines, self._rest = (self._rest + chunk).split(b"\n")
        found = []
        for line in lines:
            row = self._row(msgspec.json.decode(line, type=Letter))
            found += [row] if row is not None else []
        return found

    def _row(self, letter: Letter) -> Heard | None:
        if letter.oversize:
            self._counts["messages_too_long"] += 1
            self.complaint = f"A message of {letter.oversize} bytes is no reading: another topic?"
            return None
        if self._time is None and letter.r:
            self._counts["messages_retained"] += 1  # nobody knows how old it is
            return None
        if self._time is None and letter.d and PULSES in self._paths:
            self._counts["messages_doubled"] += 1  # its pulses may be counted already
            return None
        try:
            body = msgspec.json.decode(letter.p)
        except msgspec.DecodeError as fault:
            self._counts["messages_strange"] += 1
            self.complaint = f"A message is no JSON ({fault}): {letter.p[:SHOWN]!r}"
            return None
        except RecursionError:
            self._counts["messages_strange"] += 1
            self.complaint = "A message is nested without end: another topic?"
            return None
        return self._of_body(body, letter.p)

    def _of_body(self, body: Any, text: str) -> Heard | None:
        at_ms = None
        if self._time is not None:
            at_ms = _instant(_found(body, self._time))
            if at_ms is None:
                self._counts["times_strange"] += 1
                self.complaint = f"{self._time} is no time in {text[:SHOWN]!r}"
                return None
        numbers = {}
        for word, path in self._paths.items():
            number = _number(_found(body, path))
            if number is not None:
                numbers[word] = number
            else:
                self._counts["numbers_missing"] += 1
                self.complaint = f"{word}: there is no number at {path} in {text[:SHOWN]!r}"
        return heard(numbers, self._units, at_ms) if numbers else None


def _found(body: Any, path: str) -> Any:
    """What stands at a path; None where nothing does."""
    if path == WHOLE:
        return body
    for part in path.split(".")[:DEEPEST]:
        if isinstance(body, dict):
            body = body.get(part)
        elif isinstance(body, list) and part.isdecimal() and int(part) < len(body):
            body = body[int(part)]
        else:
            return None
    return body


def _number(value: Any) -> float | None:
    if isinstance(value, bool):
        return None
    if isinstance(value, str):
        try:
            return number_in(value)
        except ValueError:
            return None
    if not isinstance(value, int | float) or abs(value) > 1e300:
        return None
    return float(value) if math.isfinite(value) else None


def _instant(value: Any) -> int | None:
    """Milliseconds of UTC of a time in ISO 8601, or of seconds or milliseconds since 1970."""
    if isinstance(value, str):
        try:
            when = dt.datetime.fromisoformat(value)
        except ValueError:
            return None
        when = when if when.tzinfo is not None else when.replace(tzinfo=dt.UTC)
        return round(when.timestamp() * 1000.0)
    number = _number(value)
    if number is None or not 0.0 < number < 1e14:
        return None
    return round(number if number >= MS_FROM else number * 1000.0)
