"""Litres in a gap of the data: no row came, so nobody counted; water flowed as it usually does.

What is usual at these hours is added to every guess, with its scatter, and to some not at all: the
place may have been shut with everything switched off. So the figure goes on and its range widens.
"""

from __future__ import annotations

import math
from typing import Final, TypeAlias

import msgspec
import numpy as np

from analytics.belief import Belief, chance, changed
from analytics.opening import is_open
from analytics.samples import DAY_MS, HOUR_MS
from analytics.setup import LineSetup, LocalTime
from analytics.usage import Usage, expected_l

Gaps: TypeAlias = tuple[tuple[int, int], ...]
"""Spans (from, until) in which no row came, in order."""

FLOWED_SHORT: Final = 0.93
"""Chance that water was used as usual while the logger was off for up to two days (no source)."""
FLOWED_LONG: Final = 0.7
"""The same in a longer gap: the place may have been shut with the power off (no source)."""
SHORT_MS: Final = 2 * DAY_MS
USUAL_SD: Final = 0.15
"""Scatter of what is used in a gap about the usual, relative."""
UNKNOWN_SD: Final = 0.8
"""The same (of the logarithm) where no habit is known yet."""


class Missed(msgspec.Struct, frozen=True, kw_only=True):
    """Gaps since the cartridge was fitted: how long in all, the usual litres added for them, when
    the last one ended; `running_ms` is the begin of a gap that goes on."""

    total_ms: int = 0
    litres: float = 0.0
    until_ms: int = 0
    running_ms: int = 0


def kept(gaps: Gaps, more: Gaps, after_ms: int) -> Gaps:
    """Gaps not yet gone through; one that still ran is replaced by its longer self."""
    until = dict((*gaps, *more))
    return tuple((first, until[first]) for first in sorted(until) if until[first] > after_ms)


def in_gap(gaps: Gaps, span: tuple[int, int]) -> Gaps:
    """The parts of a step that lie in gaps."""
    parts = ((max(first, span[0]), min(until, span[1])) for first, until in gaps)
    return tuple(part for part in parts if part[1] > part[0])


def pass_gap(
    line: LineSetup,
    local: LocalTime,
    seed: int,
    belief: Belief,
    usage: Usage,
    missed: Missed,
    parts: Gaps,
    since_ms: int,
) -> tuple[Belief, Missed]:
    """Let the usual litres of these parts of a step flow unseen; `since_ms`: when counting began.

    Without a flow meter nothing was missed: stated use goes on.
    """
    if not parts:
        return belief, msgspec.structs.replace(missed, running_ms=0)
    if not line.flow_meter:
        return belief, missed
    begun = not missed.running_ms
    missed = msgspec.structs.replace(missed, running_ms=missed.running_ms or parts[0][0])
    usual, known = _usual_l(line, local, belief, usage, parts, since_ms)
    if begun:
        belief = _drawn(belief, seed, known, short=True)
    elif parts[-1][1] - missed.running_ms > SHORT_MS >= parts[0][0] - missed.running_ms:
        belief = _drawn(belief, seed, known, short=False)
    cloud = belief.cloud
    if usual > 0.0 and math.isfinite(float(cloud["a_life"][0])):
        used = cloud["unseen"] * usual / np.maximum(cloud["a_life"], 1e-6)
        belief = changed(belief, {"life": np.minimum(cloud["life"] + used, 3.0)})
    return belief, msgspec.structs.replace(
        missed,
        total_ms=missed.total_ms + sum(until - first for first, until in parts),
        litres=missed.litres + usual,
        until_ms=parts[-1][1],
    )


def _usual_l(
    line: LineSetup,
    local: LocalTime,
    belief: Belief,
    usage: Usage,
    parts: Gaps,
    since_ms: int,
) -> tuple[float, bool]:
    """Litres usual in these parts, and whether a habit is known; before one is, the mean so far
    (or the stated use) serves in opening hours."""
    if sum(usage.days_seen):
        return sum(expected_l(usage, line, a, b, local) for a, b in parts), True
    days = max(parts[0][0] - since_ms, DAY_MS) / DAY_MS
    a_day = belief.litres / days if belief.litres > 0.0 else line.litres_a_day or 0.0
    spans = sum(
        min(b - at, HOUR_MS)
        for a, b in parts
        for at in range(a, b, HOUR_MS)
        if is_open(line.opening, local, at)
    )
    return a_day * spans / DAY_MS, False


def _drawn(belief: Belief, seed: int, known: bool, *, short: bool) -> Belief:
    """For every guess, what part of the usual flows in this gap."""
    n = len(belief.ln_weight)
    rng = chance(seed, belief.steps, 9 if short else 10)
    flows = rng.random(n) < (FLOWED_SHORT if short else FLOWED_LONG)
    sd = USUAL_SD if known else UNKNOWN_SD
    return changed(belief, {"unseen": np.where(flows, np.exp(sd * rng.standard_normal(n)), 0.0)})
