"""One life scored: how far off, how honest, what was missed and what was cried for nothing."""

from __future__ import annotations

import math
from collections.abc import Sequence

import msgspec
import numpy as np

from analytics.samples import DAY_MS, HOUR_MS, AlarmChange, Estimate, Floats, Ints
from firmware_bridge.backtest.counter import WARN_SHARE, Counter
from firmware_bridge.backtest.truth import Truth

MARKS = (0.75, 0.5, 0.25, 0.1)
"""Shares of the total left at which the error is taken."""
SCORED = (0.9, 0.0)
"""Coverage and hardness are scored daily from this share left to this."""
WARN_FROM = 0.35
"""A warning counts from this share left on."""
ENDS = ("capacity-low", "breakthrough")
STANDS, GONE = frozenset({"raised"}), frozenset({"cleared"})


class Score(msgspec.Struct, frozen=True, kw_only=True):
    """How one life went. Errors are estimate less truth in shares of the true total.

    `inside`, `below`, `above` count days on which truth lay in the 5-95 % range, under and over
    it. `pit` are where truth lay in the range of each scored day (0-1). `named_h` are the hours
    from each source switch to its alarm (None: never). `missed` is None for a life without end.
    """

    name: str
    medium: str
    layout: str
    errors: dict[str, float | None]
    counter_errors: dict[str, float | None]
    width: dict[str, float | None]
    inside: int
    below: int
    above: int
    pit: tuple[float, ...]
    outlet_mmol_l: float | None
    counter_outlet_mmol_l: float | None
    outlet_inside: float | None
    missed: bool | None
    counter_missed: bool | None
    false_alarms: int
    counter_false_alarms: int
    false_changes: int
    years: float
    named_h: tuple[float | None, ...]
    seconds: float = 0.0


def score(
    truth: Truth,
    estimates: Sequence[Estimate],
    alarms: Sequence[AlarmChange],
    counter: Counter | None,
    counted_l: Floats,
    seconds: float = 0.0,
) -> Score:
    """Score one life; `counted_l` are the litres the meter had counted at each estimate."""
    usable = [place for place, e in enumerate(estimates) if e.remaining_l is not None]
    kept = [estimates[place] for place in usable]
    at = np.array([e.at_ms for e in kept], dtype=np.int64)
    middle = np.array([e.remaining_l.p50 for e in kept if e.remaining_l is not None])
    wide = np.array([e.remaining_l.p95 - e.remaining_l.p05 for e in kept if e.remaining_l])
    counted = np.zeros(len(kept)) if counter is None else counter.left_l(counted_l[usable])
    whole = truth.total_l
    days = _scored_days(truth)
    places = np.searchsorted(at, days, side="right").astype(np.int64) - 1
    days, places = days[places >= 0], places[places >= 0]
    left = whole - truth.litres_at(days)
    pits = [_pit(kept[int(p)], float(t)) for p, t in zip(places, left, strict=True)]
    outlet, inside = _outlet(truth, kept, days, places)
    return Score(
        name=truth.name,
        medium=truth.medium,
        layout=truth.layout,
        errors=_at_marks(truth, at, middle, signed=True),
        counter_errors=_at_marks(truth, at, counted, signed=True) if counter else {},
        width=_at_marks(truth, at, wide, signed=False),
        inside=sum(0.05 <= p <= 0.95 for p in pits),
        below=sum(p < 0.05 for p in pits),
        above=sum(p > 0.95 for p in pits),
        pit=tuple(pits),
        outlet_mmol_l=outlet,
        counter_outlet_mmol_l=_counter_outlet(truth, counter, days),
        outlet_inside=inside,
        missed=_missed(truth, [a.at_ms for a in _raised(alarms, *ENDS)], alarms),
        counter_missed=_missed(truth, _first_low(at, counted, counter)) if counter else None,
        false_alarms=_too_soon(truth, [a.at_ms for a in _raised(alarms, "breakthrough")]),
        counter_false_alarms=_too_soon(truth, at[counted <= 0.0][:1].tolist()) if counter else 0,
        false_changes=_unfounded(truth, alarms),
        years=truth.days / 365.25,
        named_h=_named(truth, alarms),
        seconds=seconds,
    )


def _at_marks(truth: Truth, at: Ints, values: Floats, *, signed: bool) -> dict[str, float | None]:
    found: dict[str, float | None] = {}
    for share in MARKS:
        when, label = truth.when_left(share), f"{100 * share:.0f}"
        place = -1 if when is None else int(np.searchsorted(at, when, side="right")) - 1
        if place < 0:
            found[label] = None
            continue
        true = truth.total_l * share if signed else 0.0
        found[label] = float(values[place] - true) / truth.total_l
    return found


def _scored_days(truth: Truth) -> Ints:
    """One instant a day between nine tenths left and the end."""
    first = truth.when_left(SCORED[0])
    last = truth.when_left(SCORED[1])
    end = int(truth.hour_ms[-1]) if last is None else last
    begin = int(truth.hour_ms[-1]) if first is None else first
    return np.arange(begin, end, DAY_MS, dtype=np.int64)


def _pit(estimate: Estimate, true: float) -> float:
    """Where truth lies in the range, 0-1, from median and 5-95 % points as a two-sided normal."""
    spread = estimate.remaining_l
    if spread is None:
        return math.nan
    below = true < spread.p50
    side = spread.p50 - spread.p05 if below else spread.p95 - spread.p50
    z = 1.6449 * (true - spread.p50) / max(side, 1e-6 * (abs(spread.p50) + 1.0))
    return 0.5 * (1.0 + math.erf(z / math.sqrt(2.0)))


def _outlet(
    truth: Truth, kept: list[Estimate], days: Ints, places: Ints
) -> tuple[float | None, float | None]:
    """Median distance of outlet hardness from truth, mmol/L, and how often truth was in range."""
    true = np.interp(days, truth.hour_ms, truth.outlet_mmol_l)
    pairs = [
        (kept[int(p)].outlet_mmol_l, t)
        for p, t in zip(places, true, strict=True)
        if kept[int(p)].outlet_mmol_l is not None
    ]
    if not pairs:
        return None, None
    off = [abs(s.p50 - t) for s, t in pairs if s is not None]
    within = [s.p05 <= t <= s.p95 for s, t in pairs if s is not None]
    return float(np.median(off)), float(np.mean(within))


def _counter_outlet(truth: Truth, counter: Counter | None, days: Ints) -> float | None:
    if counter is None or not len(days):
        return None
    true = np.interp(days, truth.hour_ms, truth.outlet_mmol_l)
    return float(np.median(np.abs(true - counter.outlet_mmol_l)))


def _raised(alarms: Sequence[AlarmChange], *names: str) -> list[AlarmChange]:
    return [a for a in alarms if a.alarm in names and a.change == "raised"]


def _missed(truth: Truth, warned: list[int], alarms: Sequence[AlarmChange] = ()) -> bool | None:
    """Whether no warning came between `WARN_FROM` left and the end (standing ones count)."""
    begin = truth.when_left(WARN_FROM)
    if truth.end_ms is None or begin is None:
        return None
    if any(_stands(alarms, name, begin) for name in ENDS):
        return False
    return not any(begin <= at <= truth.end_ms for at in warned)


def _stands(alarms: Sequence[AlarmChange], name: str, at_ms: int) -> bool:
    """Whether an alarm that was raised earlier still stood at this instant."""
    moves = [a for a in alarms if a.alarm == name and a.at_ms < at_ms and a.change in STANDS | GONE]
    return bool(moves) and max(moves, key=lambda a: a.at_ms).change in STANDS


def _first_low(at: Ints, left: Floats, counter: Counter | None) -> list[int]:
    if counter is None:
        return []
    return [int(t) for t in at[left <= WARN_SHARE * counter.total_l][:1]]


def _too_soon(truth: Truth, raised: list[int]) -> int:
    """End alarms raised while more than a twentieth of life was left."""
    fair = truth.when_left(0.05)
    return sum(fair is None or at < fair for at in raised)


def _switches(truth: Truth) -> list[int]:
    return [h.start_ms for h in truth.happenings if h.kind == "source_change"]


def _named(truth: Truth, alarms: Sequence[AlarmChange]) -> tuple[float | None, ...]:
    """Hours from each source switch to the alarm that names it."""
    raised = [a.at_ms for a in _raised(alarms, "raw-water-changed")]
    found: list[float | None] = []
    for switch in _switches(truth):
        after = [at - switch for at in raised if -HOUR_MS <= at - switch <= 7 * DAY_MS]
        found.append(min(after) / HOUR_MS if after else None)
    return tuple(found)


def _unfounded(truth: Truth, alarms: Sequence[AlarmChange]) -> int:
    """Raw-water alarms with no switch in the week before."""
    switches = _switches(truth)
    raised = [a.at_ms for a in _raised(alarms, "raw-water-changed")]
    return sum(not any(-HOUR_MS <= at - s <= 7 * DAY_MS for s in switches) for at in raised)
