"""Which lines need a visit, by when, and how probable it is that they run out before the next one.

Silence is not health: a line nobody hears of grows more doubtful with every day, and one whose data
contradict themselves is put on the list whatever its figure says.
"""

from __future__ import annotations

from collections.abc import Sequence
from enum import StrEnum
from typing import Final, NamedTuple

import msgspec

from analytics.fleet.chances import aged, chance_of_any, chance_of_end_by, silent_range
from analytics.samples import DAY_MS, HOUR_MS, MINUTE_MS, Spread
from analytics.setup import LocalTime

UNKNOWN_RISK: Final = 0.5
"""Risk a line is ranked by of which nothing is known: as likely as not."""


class Need(StrEnum):
    """What a line asks of the service company."""

    ACT = "act"
    """It has ended, or an alarm of high priority is on."""
    DUE = "due"
    """It may end before somebody comes the time after next."""
    DOUBT = "doubt"
    """Its figure cannot be relied on, or there is none."""
    SILENT = "silent"
    RIGHT = "right"


class Standing(msgspec.Struct, frozen=True, kw_only=True):
    """What is known of one line. Instants are milliseconds of UTC; None is 'not known'.

    `end_p05_ms` and so on are the estimate's range of the end, `estimate_ms` the instant it speaks
    of, `ended` its chance that the end of capacity had come by then. `limit_ms` is when the
    cartridge is as old as it may get, `carbon_ms` the range of the end of its carbon, where that is
    counted apart. `heard_ms` is when the site last said anything. `alarm` is the priority of the
    gravest alarm that is on (high, medium, low or none), `doubted` that its data contradict each
    other, `trusted` what the estimate says of itself. `ends_by` is what brings the end first.
    """

    line_no: int
    estimate_ms: int | None = None
    end_p05_ms: float | None = None
    end_p50_ms: float | None = None
    end_p95_ms: float | None = None
    ended: float = 0.0
    ends_by: str = ""
    limit_ms: int | None = None
    carbon_ms: Spread | None = None
    heard_ms: int | None = None
    alarm: str = ""
    doubted: bool = False
    trusted: bool = True


class Rules(msgspec.Struct, frozen=True, kw_only=True):
    """When a line counts as due or silent (common practice, no source)."""

    due_chance: float = 0.05
    """Chance of an end before the round after next from which a line is due."""
    act_chance: float = 0.5
    """Chance that it has ended already from which somebody goes at once."""
    silent_ms: int = 26 * HOUR_MS
    """Longer without a word is silence: a day, and the time to look after it."""


class Due(msgspec.Struct, frozen=True, kw_only=True):
    """How a line stands for the rounds ahead.

    `chances[i]` is the chance that it ends before round i (None: not known), `low` and `high` what
    it may be at least and at most given what a silence hides. `risk` is what the list is sorted by.
    `by_ms` is the instant from which on an end is likelier than 5 in 100; None where no end is
    known. `ends_by` is capacity, carbon, time or unknown.
    """

    line_no: int
    need: Need
    risk: float
    by_ms: int | None
    now: float | None
    chances: tuple[float | None, ...]
    low: tuple[float | None, ...]
    high: tuple[float | None, ...]
    ends_by: str


def due(
    lines: Sequence[Standing], now_ms: int, rounds_ms: Sequence[int], rules: Rules | None = None
) -> list[Due]:
    """Every line with its chances, the gravest first; `rounds_ms` are the next possible rounds.

    A line is held against the second round, where there is one: that is when somebody comes if
    nobody goes on the first.
    """
    used = rules or Rules()
    return sorted((stands(line, now_ms, rounds_ms, used) for line in lines), key=_gravest_first)


def stands(line: Standing, now_ms: int, rounds_ms: Sequence[int], rules: Rules) -> Due:
    """How one line stands."""
    ends = _ends(line, now_ms)
    now = _chance(line, ends, now_ms)
    chances = tuple(_chance(line, ends, at) for at in rounds_ms)
    silent = line.heard_ms is None or now_ms - line.heard_ms > rules.silent_ms
    ranges = [_range(line, ends, at) for at in rounds_ms] if silent else []
    left = min(1, len(rounds_ms) - 1)
    until = chances[left] if chances else now
    need = _need(line, now, until, silent, rules)
    worst = ranges[left][1] if ranges else until
    return Due(
        line_no=line.line_no,
        need=need,
        risk=_risk(need, worst, line.alarm),
        by_ms=_by_ms(line, ends),
        now=now,
        chances=chances,
        low=tuple(low for low, _ in ranges) if ranges else chances,
        high=tuple(high for _, high in ranges) if ranges else chances,
        ends_by=line.ends_by or "unknown",
    )


def rounds_ahead(
    weekdays: Sequence[int], now_ms: int, local: LocalTime, start_minute: int, count: int
) -> list[int]:
    """The next instants at which a round can start: those weekdays (Monday is 0), at that minute of
    the local day."""
    found: list[int] = []
    day = (now_ms + local.offset_ms(now_ms)) // DAY_MS
    while weekdays and len(found) < count:
        about = day * DAY_MS + start_minute * MINUTE_MS
        at = about - local.offset_ms(about - local.offset_ms(about))
        if at > now_ms and int(day + 3) % 7 in weekdays:
            found.append(at)
        day += 1
    return found


def _need(
    line: Standing, now: float | None, until: float | None, silent: bool, rules: Rules
) -> Need:
    if line.alarm == "high" or (now is not None and now >= rules.act_chance and line.trusted):
        return Need.ACT
    if silent:
        return Need.SILENT
    if line.doubted or until is None or not line.trusted:
        return Need.DOUBT
    return Need.DUE if until >= rules.due_chance else Need.RIGHT


def _risk(need: Need, until: float | None, alarm: str) -> float:
    """What the list is sorted by: the chance, 1 more where somebody must go at once."""
    chance = UNKNOWN_RISK if until is None else until
    if need is Need.DOUBT:
        chance = max(chance, UNKNOWN_RISK)
    return chance + (1.0 if need is Need.ACT else 0.0) + {"medium": 0.02, "low": 0.01}.get(alarm, 0)


def _gravest_first(line: Due) -> tuple[float, float, int]:
    return (-line.risk, line.by_ms if line.by_ms is not None else float("inf"), line.line_no)


class _Ends(NamedTuple):
    """The end of capacity as the estimate had it and as it is after the silence, in days from
    `now_ms`."""

    now_ms: int
    silent_days: float
    told: Spread | None
    whole: Spread | None

    def days_to(self, at_ms: float) -> float:
        return (at_ms - self.now_ms) / DAY_MS


def _ends(line: Standing, now_ms: int) -> _Ends:
    known = max((at for at in (line.estimate_ms, line.heard_ms) if at is not None), default=now_ms)
    silent_days = max(now_ms - known, 0) / DAY_MS
    if line.end_p05_ms is None or line.end_p50_ms is None or line.end_p95_ms is None:
        return _Ends(now_ms, silent_days, None, None)
    told = Spread(
        p05=(line.end_p05_ms - now_ms) / DAY_MS,
        p50=(line.end_p50_ms - now_ms) / DAY_MS,
        p95=(line.end_p95_ms - now_ms) / DAY_MS,
    )
    if line.ends_by == "time":  # a date that is fixed does not grow doubtful by silence
        return _Ends(now_ms, 0.0, told, told)
    return _Ends(now_ms, silent_days, told, aged(told, silent_days))


def _chance(line: Standing, ends: _Ends, at_ms: int) -> float | None:
    """Chance that any of the line's ends has come by an instant."""
    if (whole := ends.whole) is None:
        return _with_others(line, None, at_ms)
    chance = chance_of_end_by(whole.p05, whole.p50, whole.p95, ends.days_to(at_ms))
    return _with_others(line, max(chance, line.ended), at_ms)


def _range(line: Standing, ends: _Ends, at_ms: int) -> tuple[float | None, float | None]:
    """Least and greatest chance by an instant, given what a silence may hide."""
    if ends.told is None:
        nothing = _with_others(line, None, at_ms)
        return nothing, nothing
    low, high = silent_range(ends.told, ends.silent_days, ends.days_to(at_ms))
    return (
        _with_others(line, max(low, line.ended), at_ms),
        _with_others(line, max(high, line.ended), at_ms),
    )


def _with_others(line: Standing, capacity: float | None, at_ms: int) -> float | None:
    """The chance of the end of capacity joined with those of carbon and of age."""
    known = [] if capacity is None else [capacity]
    if (carbon := line.carbon_ms) is not None:
        known.append(chance_of_end_by(carbon.p05, carbon.p50, carbon.p95, at_ms))
    if line.limit_ms is not None:
        known.append(1.0 if at_ms >= line.limit_ms else 0.0)
    return chance_of_any(known) if known else None


def _by_ms(line: Standing, ends: _Ends) -> int | None:
    """From when on an end is likelier than 5 in 100: the first of the 5 % points."""
    first: list[float] = []
    if ends.whole is not None:
        first.append(ends.now_ms + ends.whole.p05 * DAY_MS)
    if line.carbon_ms is not None:
        first.append(line.carbon_ms.p05)
    if line.limit_ms is not None:
        first.append(line.limit_ms)
    return round(min(first)) if first else None
