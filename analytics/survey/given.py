"""What was tested of raw water, each with the doubt that its way of testing leaves."""

from __future__ import annotations

from enum import StrEnum
from typing import Final

import msgspec
import numpy as np

from analytics.samples import Floats

NINETY: Final = 1.645
"""Standard deviations from the median to the 5 and 95 % points of a normal error."""


class How(StrEnum):
    """How a figure came about."""

    DROPS = "drops"
    VALUE = "value"
    REPORT = "report"


class Reading(msgspec.Struct, frozen=True, kw_only=True):
    """A figure: the truth lies in (value - step, value], give or take an error `sd`.

    A count of drops has a step of one drop; a value has none. `said` is what the person wrote.
    """

    value: float
    step: float = 0.0
    sd: float = 0.0
    how: How = How.VALUE
    said: str = ""

    @property
    def middle(self) -> float:
        """The likeliest truth."""
        return self.value - self.step / 2

    @property
    def low(self) -> float:
        """5 % point, or the lower end of the drop."""
        return self.value - self.step - NINETY * self.sd

    @property
    def high(self) -> float:
        """95 % point, or the upper end of the drop."""
        return self.value + NINETY * self.sd

    def drawn(self, rng: np.random.Generator, count: int) -> Floats:
        """So many truths that would have given this figure; never negative."""
        within = self.value - self.step * rng.random(count)
        return np.maximum(within + self.sd * rng.standard_normal(count), 0.0)


class Given(msgspec.Struct, frozen=True, kw_only=True):
    """What is known of raw water; None is 'not tested'.

    Alkalinity is what a test of carbonate hardness titrates; it may exceed total hardness.
    """

    hardness_mmol_l: Reading | None = None
    alkalinity_meq_l: Reading | None = None
    ec25_us_cm: Reading | None = None
    calcium_mmol_l: Reading | None = None
    magnesium_mmol_l: Reading | None = None
    sodium_mmol_l: Reading | None = None
    chloride_mmol_l: Reading | None = None
    sulphate_mmol_l: Reading | None = None
    nitrate_mmol_l: Reading | None = None
    ph: Reading | None = None

    def known(self) -> dict[str, Reading]:
        """What was tested, by field."""
        found = {name: getattr(self, name) for name in self.__struct_fields__}
        return {name: reading for name, reading in found.items() if reading is not None}

    def without(self, field: str) -> Given:
        """The same with one test forgotten."""
        return msgspec.structs.replace(self, **{field: None})

    def filled_from(self, other: Given) -> Given:
        """The same, with what is missing taken from another."""
        return msgspec.structs.replace(other, **self.known())


NAMES: Final = {
    "hardness_mmol_l": "total hardness",
    "alkalinity_meq_l": "alkalinity",
    "ec25_us_cm": "conductivity",
    "calcium_mmol_l": "calcium",
    "magnesium_mmol_l": "magnesium",
    "sodium_mmol_l": "sodium",
    "chloride_mmol_l": "chloride",
    "sulphate_mmol_l": "sulphate",
    "nitrate_mmol_l": "nitrate",
    "ph": "pH",
}

PH_SD: Final = 0.15
"""A hand meter or strip on a fresh sample (common practice, no source)."""
VALUE_SHARES: Final = {"ec25_us_cm": 0.03, "chloride_mmol_l": 0.08}
"""Relative error of a stated value where it is not the usual one (common practice, no source)."""
USUAL_SHARE: Final = 0.04
REPORT_SHARE: Final = 0.07
"""How far the water of a day lies from a year's mean (common practice, no source)."""


def value_reading(field: str, value: float, how: How = How.VALUE, said: str = "") -> Reading:
    """A stated value with the error usual for its kind."""
    if field == "ph":
        sd = PH_SD
    elif how is How.REPORT:
        sd = REPORT_SHARE * value
    else:
        sd = VALUE_SHARES.get(field, USUAL_SHARE) * value
    return Reading(value=value, sd=sd, how=how, said=said)


def range_reading(low: float, high: float, how: How = How.REPORT, said: str = "") -> Reading:
    """A range as reports state it: all of it is as likely."""
    return Reading(value=high, step=high - low, how=how, said=said)


def drop_reading(drops: float, size: float, said: str = "") -> Reading:
    """A count of drops: the colour turned with the last one."""
    return Reading(value=drops * size, step=size, how=How.DROPS, said=said)
