"""What the flow meter may not have told: silence in opening hours, pulses lost or doubled.

A stuck meter and a closed shop look alike, and so do a meter that doubles its pulses and a busy
week. Some guesses therefore go on with the use that is usual here, the others believe the meter.
"""

from __future__ import annotations

import math
from typing import Final

import msgspec
import numpy as np

from analytics.belief import Belief, chance, changed
from analytics.samples import DAY_MS, Draws, Floats
from analytics.setup import LineSetup, LocalTime
from analytics.usage import Usage, expected_l

LEAST_DAYS: Final = 6
"""Days seen before anything is called usual."""
SUSPECT_DAYS: Final = 0.4
"""Silence that covers this much of a usual day's litres is suspect."""
SHORT_UNSEEN: Final = 0.75
"""Chance that water flowed unseen in a silence of less than a day: logger or meter off."""
LONG_UNSEEN: Final = 0.5
"""The same in a longer silence: as likely a holiday as a stuck meter (no source)."""
SHIFT: Final = 0.28
"""A day's litres this far (ln) from the usual are odd; two such days running are a shift."""
METER_AT_FAULT: Final = 0.6
"""Chance that a shift is the meter's and not the place's (no source)."""
DOUBLED_AT_FAULT: Final = 0.85
"""The same where the litres have just doubled."""
BUSY_AT_FAULT: Final = 0.1
"""The same where there are more, but not twice as many."""
AT_REST: Final = 0.2
"""An hour of which so small a share is usual is an odd hour to draw at."""
LEAKS: Final = 0.12
"""A day with this share of its litres at odd hours has a leak."""
MORE_SD: Final = 0.12
"""Spread of what flowed unseen about what is usual, relative."""


class Doubt(msgspec.Struct, frozen=True, kw_only=True):
    """Where counting stands. `owed_l` are usual litres of the running silence, `drew_ms` the last
    draw; `silent` tells that guesses already go on without the meter. `odd` are ln(day's litres
    over usual) of the odd days running, `odd_hours_l` the day's litres at hours when hardly any is
    usual; `shifted` is the shift that is believed, else 0."""

    drew_ms: int = 0
    owed_l: float = 0.0
    silent: bool = False
    day: int = -1
    day_l: float = 0.0
    usual_l: float = 0.0
    odd_hours_l: float = 0.0
    odd: tuple[float, ...] = ()
    shifted: float = 0.0


def doubt_count(
    line: LineSetup,
    local: LocalTime,
    seed: int,
    belief: Belief,
    usage: Usage,
    doubt: Doubt,
    draws: Draws,
    span: tuple[int, int],
    closed: bool,
) -> tuple[Belief, Doubt]:
    """Follow one step from `span[0]` to `span[1]`; `usage` is what was usual before it."""
    if not line.flow_meter or sum(usage.days_seen) < LEAST_DAYS:
        last = int(draws.end_ms[-1]) if len(draws) else doubt.drew_ms
        return belief, msgspec.structs.replace(doubt, drew_ms=last)
    usual = 0.0 if closed else expected_l(usage, line, span[0], span[1], local)
    belief, doubt = _follow_days(line, local, seed, belief, doubt, draws, usual, span[1])
    if len(draws):
        return _speaks(belief, doubt, draws)
    return _silence(line, seed, belief, usage, doubt, usual, span[1])


def _speaks(belief: Belief, doubt: Doubt, draws: Draws) -> tuple[Belief, Doubt]:
    """The meter counts again."""
    doubt = msgspec.structs.replace(doubt, drew_ms=int(draws.end_ms[-1]), owed_l=0.0, silent=False)
    return belief, doubt


def _silence(
    line: LineSetup,
    seed: int,
    belief: Belief,
    usage: Usage,
    doubt: Doubt,
    usual: float,
    at_ms: int,
) -> tuple[Belief, Doubt]:
    """No pulse in this step: from some length on, some guesses count what is usual."""
    owed = doubt.owed_l + usual
    if doubt.silent:
        belief = _pass_unseen(belief, usual)
        return belief, msgspec.structs.replace(doubt, owed_l=owed)
    a_day = sum(usage.litres) / max(sum(usage.weight), 1e-9)
    if owed < SUSPECT_DAYS * a_day:
        return belief, msgspec.structs.replace(doubt, owed_l=owed)
    rng = chance(seed, belief.steps, 7)
    likely = SHORT_UNSEEN if at_ms - doubt.drew_ms < DAY_MS else LONG_UNSEEN
    n = len(belief.ln_weight)
    flows = (rng.random(n) < likely).astype(np.float64)
    unseen: Floats = flows * np.exp(MORE_SD * rng.standard_normal(n))
    belief = _pass_unseen(changed(belief, {"unseen": unseen}), owed)
    return belief, msgspec.structs.replace(doubt, owed_l=owed, silent=True)


def _pass_unseen(belief: Belief, litres: float) -> Belief:
    cloud = belief.cloud
    if litres <= 0.0 or not math.isfinite(float(cloud["a_life"][0])):
        return belief
    used = cloud["unseen"] * litres / np.maximum(cloud["a_life"], 1e-6)
    return changed(belief, {"life": np.minimum(cloud["life"] + used, 3.0)})


def _follow_days(
    line: LineSetup,
    local: LocalTime,
    seed: int,
    belief: Belief,
    doubt: Doubt,
    draws: Draws,
    usual: float,
    at_ms: int,
) -> tuple[Belief, Doubt]:
    """Hold each whole day against the usual; two odd days running are a shift of the counting."""
    day = (at_ms - 1 + local.offset_ms(at_ms)) // DAY_MS
    litres = int(draws.pulses.sum()) / line.pulses_per_l
    if day != doubt.day:
        belief, doubt = _close_day(seed, belief, doubt)
        doubt = msgspec.structs.replace(doubt, day=day, day_l=0.0, usual_l=0.0, odd_hours_l=0.0)
    if usual < AT_REST * litres:
        doubt = msgspec.structs.replace(doubt, odd_hours_l=doubt.odd_hours_l + litres)
    doubt = msgspec.structs.replace(
        doubt, day_l=doubt.day_l + litres, usual_l=doubt.usual_l + usual
    )
    if doubt.shifted:
        cloud = belief.cloud
        missed = litres * (np.exp(-doubt.shifted) - 1.0) * cloud["meter"]
        life = cloud["life"] + missed / np.maximum(cloud["a_life"], 1e-6)
        belief = changed(belief, {"life": np.maximum(life, 0.0)})
    return belief, doubt


def _close_day(seed: int, belief: Belief, doubt: Doubt) -> tuple[Belief, Doubt]:
    if doubt.usual_l <= 0.0 or doubt.day_l <= 0.1 * doubt.usual_l:
        return belief, doubt
    off = math.log(doubt.day_l / doubt.usual_l)
    if abs(off - doubt.shifted) < SHIFT:
        return belief, msgspec.structs.replace(doubt, odd=())
    if abs(off) < SHIFT:
        return belief, msgspec.structs.replace(doubt, odd=(), shifted=0.0)
    odd = (*doubt.odd, off)[-2:]
    if len(odd) < 2 or odd[0] * odd[1] < 0.0:
        return belief, msgspec.structs.replace(doubt, odd=odd)
    shifted = 0.5 * (odd[0] + odd[1])
    doubles = abs(shifted - math.log(2.0)) < 0.2
    rng = chance(seed, belief.steps, 8)
    likely = DOUBLED_AT_FAULT if doubles else METER_AT_FAULT if shifted < 0.0 else BUSY_AT_FAULT
    if doubt.odd_hours_l > LEAKS * doubt.day_l:
        likely = 0.0  # water runs by night: a leak, and the bed does take it
    believed = (rng.random(len(belief.ln_weight)) < likely).astype(np.float64)
    belief = changed(belief, {"meter": believed})
    cloud = belief.cloud
    if math.isfinite(float(cloud["a_life"][0])):
        missed = 2.0 * doubt.day_l * (math.exp(-shifted) - 1.0) * believed
        life = np.maximum(cloud["life"] + missed / np.maximum(cloud["a_life"], 1e-6), 0.0)
        belief = changed(belief, {"life": life})
    return belief, msgspec.structs.replace(doubt, odd=(), shifted=shifted)


def in_closure(closures: tuple[tuple[int, int], ...], span: tuple[int, int]) -> bool:
    """Whether a step lies in an announced closure."""
    middle = (span[0] + span[1]) // 2
    return any(begin <= middle < end for begin, end in closures)
