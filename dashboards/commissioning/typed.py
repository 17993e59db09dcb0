"""What was typed on a step, in the reader's units, as base units."""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum
from typing import TypeVar

import msgspec

from analytics.errors import ActRefused
from analytics.quantities import CONDUCTIVITY, TEMPERATURE, VOLUME, Quantity
from analytics.setup import LocalTime
from dashboards.acts.forms import moment, number
from dashboards.commissioning.shown import quantity_of
from dashboards.phrases.reader import Reader

Word = TypeVar("Word", bound=StrEnum)


class Typed(msgspec.Struct, frozen=True, kw_only=True):
    """The fields of a form. Every reader raises ActRefused that names the field."""

    fields: Mapping[str, str]
    reader: Reader
    local: LocalTime

    def text(self, name: str) -> str:
        """Printable words, spaces made single."""
        found = " ".join(self.fields.get(name, "").split())
        if len(found) > 60 or not found.isprintable():
            raise ActRefused([(name, "text")])
        return found

    def has(self, name: str) -> bool:
        """Whether anything was typed."""
        return bool(self.fields.get(name, "").strip())

    def number(self, name: str, low: float, high: float) -> float:
        """A bare number within two ends."""
        if not self.has(name):
            raise ActRefused([(name, "missing")])
        try:
            value = number(self.fields[name])
        except ValueError as fault:
            raise ActRefused([(name, str(fault))]) from fault
        return _within(name, value, low, high)

    def litres(self, name: str, low: float, high: float) -> float:
        """A volume typed in the reader's unit."""
        return self._figure(name, VOLUME, self.reader.volume_unit, low, high)

    def temp_c(self, name: str) -> float:
        """A temperature typed in the reader's unit, of a liquid."""
        return self._figure(name, TEMPERATURE, self.reader.temperature_unit, 0.0, 50.0)

    def us_cm(self, name: str, low: float, high: float) -> float:
        """A conductivity in uS/cm."""
        return self._figure(name, CONDUCTIVITY, "uS/cm", low, high)

    def water(self, name: str, kind: str, low: float, high: float) -> float:
        """A hardness or alkalinity typed in the reader's unit."""
        return self._figure(name, quantity_of(kind), self.reader.hardness_unit, low, high)

    def moment(self, name: str) -> int:
        """A date and time by the site's clock."""
        if not self.has(name):
            raise ActRefused([(name, "missing")])
        try:
            return moment(self.fields[name], self.local)
        except ValueError as fault:
            raise ActRefused([(name, str(fault))]) from fault

    def choice(self, name: str, words: type[Word], usual: Word) -> Word:
        """One of the words."""
        said = self.fields.get(name, usual.value)
        if said not in {word.value for word in words}:
            raise ActRefused([(name, "choice")])
        return words(said)

    def _figure(self, name: str, quantity: Quantity, unit: str, low: float, high: float) -> float:
        bare = self.number(name, -1e9, 1e9)
        return _within(name, quantity.to_base(bare, unit), low, high)


def _within(name: str, value: float, low: float, high: float) -> float:
    if not low - 1e-9 <= value <= high + 1e-9:
        raise ActRefused([(name, "span")])
    return value
