"""A cartridge that was changed and nobody said so: found by the bed, which is new again."""

from __future__ import annotations

from typing import Any, Final

import msgspec
import numpy as np

from analytics.belief import Belief, shares, spread_of
from analytics.samples import DAY_MS
from analytics.source_change import Change

LOOKED_FOR_MS: Final = 21 * DAY_MS
"""So long after a step (or an odd drop test) a new cartridge is looked for."""
YOUNGER: Final = 0.3
"""A bed younger by this share of life than it can be is another one."""
SURE: Final = 0.9


class Suspicion(msgspec.Struct, frozen=True, kw_only=True):
    """The bed as it was before something that may have been a change of cartridge.

    `life` is the 5 % point of the used share, `litres` what had passed the old cartridge.
    `found_ms` is when a change was found (0: none).
    """

    at_ms: int = 0
    life: float = 0.0
    litres: float = 0.0
    found_ms: int = 0


def suspect(before: Suspicion, belief: Belief, at_ms: int) -> Suspicion:
    """Remember the bed at `at_ms`, before what is about to be weighed."""
    low = spread_of(belief.cloud["life"], shares(belief)).p05
    return Suspicion(at_ms=at_ms, life=low, litres=belief.litres, found_ms=before.found_ms)


def new_change(before: Change | None, after: Change | None) -> bool:
    """Whether a step of the probes was believed just now."""
    return after is not None and (before is None or after.at_ms != before.at_ms)


def is_new(suspicion: Suspicion, belief: Belief, at_ms: int) -> bool:
    """Whether the bed is, almost surely, younger than the one before can be."""
    if not suspicion.at_ms or suspicion.life < YOUNGER:
        return False
    if at_ms - suspicion.at_ms > LOOKED_FOR_MS:
        return False
    younger = belief.cloud["life"] < suspicion.life - YOUNGER
    return float(np.sum(shares(belief)[younger])) > SURE


def closed(belief: Belief, suspicion: Suspicion) -> dict[str, Any]:
    """What becomes of the old cartridge's account: litres since the change alone count."""
    return {
        "litres": max(belief.litres - suspicion.litres, 0.0),
        "nats": (0.35, 0.0, 0.0),
    }
