"""Looks: when what the probes said is gathered up and laid before the guesses.

One hour's reading is no more evidence than the next: their errors are the same. So readings are
gathered over a half per cent of the capacity or a day, and weighed once, as one.
"""

from __future__ import annotations

import math
from typing import Final

import msgspec
import numpy as np

from analytics.bed import Stand, exchanges, family_of
from analytics.belief import Belief, shares, spread_of
from analytics.column.family import CurveFamily
from analytics.evidence import Seen, drift, follow_inlet, pass_litres, see_outlet, see_pair, seen_in
from analytics.facts import take_event
from analytics.guess import kind_at, outlook, raw_of, with_lives
from analytics.reasons import Narrowing, narrowings
from analytics.redraw import drawn_anew, followed
from analytics.samples import (
    DAY_MS,
    AnyEvent,
    CartridgeFitted,
    Draws,
    DropTest,
    Point,
    Spread,
)
from analytics.setup import LineSetup
from analytics.source_change import NEAR_END, Change, Level, moved, open_minded, watch_level

LOOK_SHARE: Final = 0.005
"""Share of the capacity after which a look is due."""
LONGEST_MS: Final = DAY_MS
FAINT: Final = 0.10
"""A medium whose bed changes ln(EC25) by less than this shows no turn of the bypass."""


class Hardness(msgspec.Struct, frozen=True, kw_only=True):
    """Hardness of the medium's kind at the last look, mmol/L, and the bypass."""

    raw: Spread
    treated: Spread
    outlet: Spread
    bypass: Spread


class Watching(msgspec.Struct, frozen=True, kw_only=True):
    """What was gathered since the last look, and where the probes stood lately.

    `seen` are readings of steps, `litres` passed and `at_ms` the instant of the last look.
    `change` is the last step that was believed. `narrowings` are what would sharpen the figure,
    worked out once a day at `told_ms`.
    """

    seen: tuple[Seen, ...] = ()
    litres: float = 0.0
    at_ms: int = 0
    level: Level = Level()
    change: Change | None = None
    hardness: Hardness | None = None
    told_ms: int = 0
    narrowings: tuple[Narrowing, ...] = ()


def flow(
    line: LineSetup,
    seed: int,
    belief: Belief,
    watching: Watching,
    draws: Draws,
    litres: float,
    at_ms: int,
) -> tuple[Belief, Watching]:
    """Litres pass, the probes speak; a look is taken when it is due or when a step shows."""
    if not watching.at_ms:
        watching = msgspec.structs.replace(watching, at_ms=at_ms)
    if litres > 0.0 and not math.isfinite(float(belief.cloud["a_life"][0])):
        belief = _settled(line, belief)
    belief = pass_litres(belief, litres)
    watching = msgspec.structs.replace(watching, litres=watching.litres + litres)
    stepped = False
    if len(draws) and line.outlet_probe and exchanges(line.medium):
        belief, watching, stepped = _listen(line, seed, belief, watching, draws, at_ms)
    if stepped or _due(line, watching, at_ms):
        return look(line, seed, belief, watching, at_ms)
    return belief, watching


def _due(line: LineSetup, watching: Watching, at_ms: int) -> bool:
    if watching.litres <= 0.0 and not watching.seen:
        return False
    whole = line.rated_l or (line.capacity_mmol or 10_000.0) / 2.4
    return watching.litres >= LOOK_SHARE * whole or at_ms - watching.at_ms >= LONGEST_MS


def _listen(
    line: LineSetup, seed: int, belief: Belief, watching: Watching, draws: Draws, at_ms: int
) -> tuple[Belief, Watching, bool]:
    """Take a step's reading in; where it confirms a step, weigh what came before it first."""
    before = watching.level
    level, ready, step = watch_level(before, seen_in(draws), at_ms, line.inlet_probe)
    if not step:
        seen = (*watching.seen, *ready)
        return belief, msgspec.structs.replace(watching, level=level, seen=seen), False
    sees_bypass = _sees_bypass(watching, belief)
    belief, watching = look(line, seed, belief, watching, before.held_ms)
    near = float(np.sum(shares(belief)[belief.cloud["life"] > NEAR_END]))
    change = moved(before, level, before.held_ms, line, sees_bypass, watching.change, near)
    belief = open_minded(_next(belief), line, change, sees_bypass, seed)
    watching = msgspec.structs.replace(watching, level=level, seen=ready, change=change)
    return belief, watching, True


def _sees_bypass(watching: Watching, belief: Belief) -> bool:
    """Whether a turn of the bypass would show in conductivity here."""
    level = watching.level
    if math.isfinite(level.inlet):
        return abs(level.outlet - level.inlet) > FAINT
    middle = float(shares(belief) @ belief.cloud["ec"])
    return abs(level.outlet - middle) > FAINT


def look(
    line: LineSetup, seed: int, belief: Belief, watching: Watching, at_ms: int
) -> tuple[Belief, Watching]:
    """Let time pass since the last look, weigh what was gathered, draw guesses anew if need be."""
    days = max(at_ms - watching.at_ms, 0) / DAY_MS
    passed = _life_passed(belief, watching.litres)
    belief = drift(_next(belief), line, days, passed, seed)
    belief, family = stood(line, belief)
    seen = _gathered(watching.seen)
    if family is not None and line.outlet_probe:
        if line.inlet_probe:
            belief = _look_at_pair(belief, family, seen, passed, seed)
        elif math.isfinite(seen.outlet):
            belief = see_outlet(belief, family, seen.outlet, passed)
    belief = drawn_anew(belief, line, family, seed)
    belief = with_lives(belief, line, family)
    watching = msgspec.structs.replace(
        watching, seen=(), litres=0.0, at_ms=at_ms, hardness=_hardness(belief, family)
    )
    if at_ms - watching.told_ms >= DAY_MS:
        watching = msgspec.structs.replace(
            watching, told_ms=at_ms, narrowings=narrowings(line, belief, family)
        )
    return belief, watching


def _look_at_pair(
    belief: Belief, family: CurveFamily, seen: Seen, passed: float, seed: int
) -> Belief:
    if math.isfinite(seen.inlet):
        belief = follow_inlet(belief, seen.inlet)
    if math.isfinite(seen.ratio) and belief.ec_known:
        belief = see_pair(belief, family, seen, passed, seed)
    return belief


def _life_passed(belief: Belief, litres: float) -> float:
    a_life = float(np.median(belief.cloud["a_life"]))
    return litres / a_life if a_life > 0.0 else 0.0


def _gathered(seen: tuple[Seen, ...]) -> Seen:
    """One reading from many: the median of what inlet and ratio (or outlet alone) said."""
    nothing = Seen(inlet=math.nan, outlet=math.nan)
    if not seen:
        return nothing
    inlet = [s.inlet for s in seen if math.isfinite(s.inlet)]
    both = [s.ratio for s in seen if math.isfinite(s.ratio)]
    if both:
        middle = float(np.median(inlet))
        return Seen(inlet=middle, outlet=middle + float(np.median(both)))
    outlet = [s.outlet for s in seen if math.isfinite(s.outlet)]
    return Seen(
        inlet=float(np.median(inlet)) if inlet else math.nan,
        outlet=float(np.median(outlet)) if outlet else math.nan,
    )


def before_fact(
    line: LineSetup, seed: int, belief: Belief, watching: Watching, event: AnyEvent, at_ms: int
) -> tuple[Belief, Watching]:
    """Weigh what was gathered before a fact, then let the fact act."""
    if watching.litres > 0.0 or watching.seen:
        belief, watching = look(line, seed, belief, watching, at_ms)
    family = None
    if _needs_curves(event):
        belief, family = stood(line, belief)
    return take_event(_next(belief), line, family, event, seed), watching


def _needs_curves(event: AnyEvent) -> bool:
    if isinstance(event, DropTest):
        return event.point is not Point.RAW
    return isinstance(event, CartridgeFitted) and bool(event.litres_before)


def after_fact(
    line: LineSetup, seed: int, belief: Belief, watching: Watching, event: AnyEvent
) -> tuple[Belief, Watching]:
    """Draw guesses anew if need be, and work out what follows from the fact."""
    if isinstance(event, CartridgeFitted):
        watching = msgspec.structs.replace(watching, level=Level(), seen=(), change=None)
    if not math.isfinite(float(belief.cloud["a_life"][0])):
        return drawn_anew(belief, line, None, seed), watching
    belief, family = stood(line, belief)
    belief = drawn_anew(belief, line, family, seed)
    belief = with_lives(belief, line, family)
    return belief, msgspec.structs.replace(watching, hardness=_hardness(belief, family), told_ms=0)


def _settled(line: LineSetup, belief: Belief) -> Belief:
    belief, family = stood(line, belief)
    return with_lives(belief, line, family)


def _next(belief: Belief) -> Belief:
    """The belief at the next place in the numbers of chance."""
    return msgspec.structs.replace(belief, steps=belief.steps + 1)


def stood(line: LineSetup, belief: Belief) -> tuple[Belief, CurveFamily | None]:
    """The belief with curves drawn for about its water; None for a medium that has none."""
    if not exchanges(line.medium):
        return belief, None
    weights, raw, cloud = shares(belief), raw_of(belief), belief.cloud
    here = Stand.near(
        float(weights @ raw.hardness_mmol_l),
        float(weights @ raw.alkalinity_meq_l),
        float(weights @ cloud["calcium"]),
        math.exp(float(weights @ cloud["ec"])) if belief.ec_known else 0.0,
    )
    stand = belief.stand
    if stand is not None and not here.far_from(stand):
        return belief, family_of(line.medium, stand, line.end_share)
    family = family_of(line.medium, here, line.end_share)
    if stand is not None:
        belief = followed(belief, line, family_of(line.medium, stand, line.end_share), family)
    return msgspec.structs.replace(belief, stand=here), family


def _hardness(belief: Belief, family: CurveFamily | None) -> Hardness | None:
    if family is None:
        return None
    weights, now = shares(belief), outlook(belief, family)
    points = (Point.RAW, Point.TREATED, Point.BLENDED)
    raw, treated, outlet = (spread_of(kind_at(family, now, at), weights) for at in points)
    bypass = spread_of(belief.cloud["bypass"], weights)
    return Hardness(raw=raw, treated=treated, outlet=outlet, bypass=bypass)
