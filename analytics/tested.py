"""What drop tests said beside what was expected of them."""

from __future__ import annotations

import msgspec


class Tested(msgspec.Struct, frozen=True, kw_only=True):
    """One count of a drop test: what it said, what was expected (5-95 %), whether it is doubted.

    Values in mmol/L (alkalinity in meq/L); `step` is one drop.
    """

    event_id: str
    at_ms: int
    point: str
    kind: str
    told: float
    step: float
    low: float
    high: float
    doubted: bool = False
