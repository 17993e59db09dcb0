"""What a site file says of a counter of water: pulse value, class, where it begins anew."""

from __future__ import annotations

import math
from typing import Annotated, Final, Literal

import msgspec

from firmware_bridge.config import kinds
from firmware_bridge.config.readers import asks, quantity, whole
from firmware_bridge.config.wiring import MeterOptions

CLASSES: Final = {"1": (0.01, 0.03), "2": (0.02, 0.05)}
"""Greatest errors of a new water meter from Q2 to Q4 (up to 30 C) and from Q1 to Q2. OIML R
49-1:2013, 4.2; ISO 4064-1:2014, 4.2 (from memory)."""
IN_SERVICE: Final = 2.0
"""In service twice the errors are allowed (common national practice, from memory)."""


class WaterMeter(MeterOptions, frozen=True, kw_only=True):
    """A meter that may count water."""

    pulse_value_l: Annotated[
        float | None,
        asks(
            "What one count of flow_count stands for; left out, it is a pulse of the line's "
            "k_factor.",
            quantity(kinds.VOLUME, low=1e-6, high=10_000.0),
            example='"1 L"',
        ),
    ] = msgspec.field(name="pulse_value", default=None)
    accuracy_class: Annotated[
        Literal["1", "2"] | None,
        asks(
            "Accuracy class of a water meter (OIML R 49), from its plate: how far its litres may "
            "be off until a jug test is noted.",
            example='"2"',
        ),
    ] = None
    counts_to: Annotated[
        int | None,
        asks(
            "The counter begins anew after so many counts, where that is not its register's "
            "16 or 32 bits.",
            whole(100, 2**53),
            example="100000000",
        ),
    ] = None

    def flow_spread(self) -> float | None:
        """One standard deviation of a meter of this class in service: its greatest error, every
        error up to it as likely, is sqrt(3) of them (JCGM 100:2008, 4.3.7)."""
        if self.accuracy_class is None:
            return None
        return IN_SERVICE * CLASSES[self.accuracy_class][0] / math.sqrt(3.0)

    def wrap(self) -> int:
        """After how many counts the counter begins anew."""
        return self.counts_to if self.counts_to is not None else 1 << 32
