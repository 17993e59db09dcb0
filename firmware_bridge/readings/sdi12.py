"""SDI-12 answers: their check, their values. Pure.

SDI-12 specification 1.4: 4.4.12 (CRC), 4.4.5-4.4.7 (start, data). CRC-16/ARC, sent as three
printable characters.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping
from typing import Any, Final

import msgspec

from firmware_bridge.readings.numbers import Units, heard
from firmware_bridge.readings.value_driver import Heard

ADDRESSES: Final = "0123456789abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ"
VALUE: Final = re.compile(r"[+-]\d+(?:\.\d*)?|[+-]\.\d+")
STARTED: Final = re.compile(r"([0-9A-Za-z])(\d{3})(\d{1,3})")


def crc(text: bytes) -> int:
    """CRC-16/ARC: polynomial 0xA001 reflected, begins at 0."""
    value = 0
    for byte in text:
        value ^= byte
        for _ in range(8):
            value = value >> 1 ^ (0xA001 if value & 1 else 0)
    return value


def crc_text(text: bytes) -> bytes:
    """The three characters that go behind an answer."""
    value = crc(text)
    return bytes((0x40 | value >> 12, 0x40 | value >> 6 & 0x3F, 0x40 | value & 0x3F))


def checked(answer: bytes) -> bytes | None:
    """An answer without its check; None where the check is wrong."""
    if len(answer) < 4 or crc_text(answer[:-3]) != answer[-3:]:
        return None
    return answer[:-3]


def started(answer: str, address: str) -> tuple[float, int] | None:
    """Seconds to wait and how many values will come; None where this is no such answer."""
    found = STARTED.fullmatch(answer)
    if found is None or found[1] != address:
        return None
    return float(found[2]), int(found[3])


def values(answer: str, address: str) -> list[float] | None:
    """The values of a data answer; None where it is another sensor's or no such answer."""
    if not answer.startswith(address):
        return None
    body = answer[len(address) :]
    found = VALUE.findall(body)
    return [float(text) for text in found] if "".join(found) == body else None


class Sdi12Decoder:
    """Rounds of an `Sdi12Line`: a JSON list of values, or {"fault": sentence}. `places` are the
    channels by the place of their value, counted from 1."""

    def __init__(self, places: Mapping[str, int], units: Units | None = None) -> None:
        self._places = dict(places)
        self._units = units or Units()
        self._rest = b""
        self._counts: Counter[str] = Counter()
        self.complaint = ""

    @property
    def counts(self) -> dict[str, int]:
        """What was refused so far."""
        return dict(self._counts)

    def opened(self) -> None:
        """A new round begins."""
        self._rest = b""

    def decode(self, chunk: bytes) -> list[Heard]:
        """Each round as one row."""
        *lines, self._rest = (self._rest + chunk).split(b"\n")
        found = []
        for line in lines:
            row = self._row(msgspec.json.decode(line))
            found += [row] if row is not None else []
        return found

    def _row(self, said: Any) -> Heard | None:
        if isinstance(said, dict):
            self._counts["answers_missing"] += 1
            self.complaint = str(said["fault"])
            return None
        numbers = {}
        for word, place in self._places.items():
            if place <= len(said):
                numbers[word] = float(said[place - 1])
            else:
                self._counts["numbers_missing"] += 1
                self.complaint = f"{word} is value {place}, but the sensor sends {len(said)} values"
        return heard(numbers, self._units) if numbers else None
