"""What is heard of the probes: water that only flushes is not, exchanged probes are put right.

Behind a medium that takes alkalinity out, water never conducts plainly more than in front of it.
Where two probes say so from the first day, or trade their readings from one hour to the next, they
(or their cables) have been exchanged.
"""

from __future__ import annotations

import math
from typing import Final

import msgspec
import numpy as np

from analytics.bed import exchanges, sees_little
from analytics.evidence import Seen, seen_in
from analytics.samples import Draws
from analytics.setup import LineSetup

ABOVE: Final = 0.10
"""ln(outlet / inlet) above this is no water's: two probes differ by 3 % (common practice)."""
TRADED: Final = 0.06
"""Readings within this of what the other probe said have been traded."""
CONFIRMED: Final = 3
"""So many readings running before probes are taken for exchanged."""
FOLLOWS: Final = 0.3
"""Weight of a new reading in the level of a probe."""
FLUSH_L: Final = 12.0
"""Litres a new cartridge is flushed with (common practice, no source): they tell nothing."""
ODD_FIRST: Final = 0.08
"""First water this far (ln) from what follows came from a cartridge that was not flushed."""


class Hearing(msgspec.Struct, frozen=True, kw_only=True):
    """How the probes are heard. `inlet`, `outlet` are their levels (ln EC25) as they are placed.

    `turned`: they are exchanged since `since_ms`. `strange` readings running fit only the other
    way round, the first at `strange_ms`. `first` is what the outlet said of the first litres of a
    cartridge (against the inlet where there is one), `unflushed` whether that was odd.
    """

    turned: bool = False
    since_ms: int = 0
    strange: int = 0
    strange_ms: int = 0
    inlet: float = math.nan
    outlet: float = math.nan
    first: float = math.nan
    unflushed: bool = False


class Heard(msgspec.Struct, frozen=True, kw_only=True):
    """Draws as they are to be weighed; `turned_now`: the probes have just been put right, from
    the first day on where `from_start`."""

    hearing: Hearing
    draws: Draws
    turned_now: bool = False
    from_start: bool = False


def hear(line: LineSetup, hearing: Hearing, draws: Draws, litres: float, at_ms: int) -> Heard:
    """Take one step's draws in; `litres` have passed the cartridge before them, NaN: not known."""
    if not line.outlet_probe or not len(draws):
        return Heard(hearing=hearing, draws=draws)
    if hearing.turned:
        draws = exchanged(draws)
    seen = seen_in(draws)
    if litres < FLUSH_L:
        first = _first(hearing, seen)
        return Heard(hearing=first, draws=_unheard(draws))
    hearing = _flushed(hearing, seen)
    if not _shows_exchange(line) or not math.isfinite(seen.ratio):
        return Heard(hearing=hearing, draws=draws)
    if not _other_way_round(hearing, seen):
        return Heard(hearing=_follow(hearing, seen), draws=draws)
    strange_ms = hearing.strange_ms if hearing.strange else at_ms
    if hearing.strange + 1 < CONFIRMED:
        waits = msgspec.structs.replace(hearing, strange=hearing.strange + 1, strange_ms=strange_ms)
        return Heard(hearing=waits, draws=_unheard(draws))
    after = Hearing(
        turned=not hearing.turned,
        since_ms=strange_ms,
        inlet=seen.outlet,
        outlet=seen.inlet,
        unflushed=hearing.unflushed,
    )
    from_start = not math.isfinite(hearing.inlet)
    return Heard(hearing=after, draws=exchanged(draws), turned_now=True, from_start=from_start)


def exchanged(draws: Draws) -> Draws:
    """The same draws with inlet and outlet readings traded."""
    return msgspec.structs.replace(
        draws,
        outlet_ec25_us_cm=draws.inlet_ec25_us_cm,
        outlet_ec25_se=draws.inlet_ec25_se,
        outlet_temp_c=draws.inlet_temp_c,
        inlet_ec25_us_cm=draws.outlet_ec25_us_cm,
        inlet_ec25_se=draws.outlet_ec25_se,
        inlet_temp_c=draws.outlet_temp_c,
    )


def _shows_exchange(line: LineSetup) -> bool:
    return line.inlet_probe and exchanges(line.medium) and not sees_little(line.medium)


def _other_way_round(hearing: Hearing, seen: Seen) -> bool:
    """Whether this reading fits only probes that are exchanged against what is thought of them."""
    if seen.ratio <= ABOVE:
        return False
    if not math.isfinite(hearing.inlet):
        return True
    traded = (seen.inlet - hearing.outlet, seen.outlet - hearing.inlet)
    return all(abs(off) < TRADED for off in traded)


def _follow(hearing: Hearing, seen: Seen) -> Hearing:
    def near(level: float, reading: float) -> float:
        return level + FOLLOWS * (reading - level) if math.isfinite(level) else reading

    return msgspec.structs.replace(
        hearing,
        strange=0,
        inlet=near(hearing.inlet, seen.inlet),
        outlet=near(hearing.outlet, seen.outlet),
    )


def _unheard(draws: Draws) -> Draws:
    """The same litres, their conductivity left out."""
    nothing = np.full(len(draws), np.nan)
    return msgspec.structs.replace(draws, outlet_ec25_us_cm=nothing, inlet_ec25_us_cm=nothing)


def _against(seen: Seen) -> float:
    """The outlet against the inlet, alone where there is none."""
    return seen.ratio if math.isfinite(seen.ratio) else seen.outlet


def _first(hearing: Hearing, seen: Seen) -> Hearing:
    """The first litres of a cartridge: what they say is kept only to be compared."""
    first = _against(seen)
    if not math.isfinite(first):
        return hearing
    return msgspec.structs.replace(hearing, first=first, unflushed=False)


def _flushed(hearing: Hearing, seen: Seen) -> Hearing:
    """The first water after the flush: whether the litres before it were odd."""
    here = _against(seen)
    if not math.isfinite(hearing.first) or not math.isfinite(here):
        return hearing
    odd = abs(hearing.first - here) > ODD_FIRST
    return msgspec.structs.replace(hearing, first=math.nan, unflushed=odd)
