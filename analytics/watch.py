"""Following the alarms of a line through time, instant by instant.

Everything that can move an alarm has an instant the data set: an estimate, a fact, the end of a
quarter of an hour, a silence of the meters, a delay that is over, a shelf that ends. The instants
are gone through in order, never past the one up to which all rows are known; so the journal is the
same however the rows are cut. It is never gone back: what comes late changes what is known from now
on, not what was told.
"""

from __future__ import annotations

from typing import Any, Final, TypeAlias

import msgspec
import numpy as np

from analytics.alarm import Flow, Quiet, Rule, Situation, line_rules
from analytics.alarm_life import BORN, STANDING, Life, by_hand, due_ms, live_on
from analytics.diagnosis.diagnose import Diagnosis, Seen, learn
from analytics.diagnosis.diagnose import follow as diagnose
from analytics.health import Meters, Recent, judge, worked_on
from analytics.machine_water import MachineWater, RawTest, machine_water, raw_test
from analytics.opening import is_open, never_shuts
from analytics.quarter import NO_ROWS, QUARTER_MS, Quarter, quarter_of, with_draws, with_rows
from analytics.samples import (
    HOUR_MS,
    Acknowledged,
    AlarmChange,
    AnyEvent,
    BypassSet,
    Closure,
    Commissioning,
    Draws,
    Estimate,
    InService,
    OutOfService,
    Rows,
    Shelved,
    Unshelved,
    Withdrawn,
)
from analytics.setup import LineSetup, LocalTime

ACTS: Final = (Acknowledged, Shelved, Unshelved, OutOfService, InService)
"""What a person does about an alarm: no fact about the water."""
TELLS_OF_ALARMS: Final = (*ACTS, Commissioning, Withdrawn)
"""What is for the alarms alone: the water is as it was (who takes a fact back has the past worked
over without it)."""

SHUT_MARGIN_MIN: Final = 60
"""Cleaning before opening and after closing (common practice, no source)."""
OPEN_MARGIN_MIN: Final = -30
GAP_FADES: Final = 0.999
"""Share that a usual wait keeps with each quarter of an hour of flow: half in two to three weeks.
"""
LONGEST_USUAL_H: Final = 12.0
Lives: TypeAlias = dict[str, Life]


Span: TypeAlias = tuple[int, int, str]
"""From, until, and the id of the event that announced it."""


class Known(msgspec.Struct, frozen=True, kw_only=True):
    """What facts told so far, as far as alarms want to know."""

    bypass_set: float | None = None
    raw: RawTest | None = None
    closures: tuple[Span, ...] = ()
    works: tuple[Span, ...] = ()


class Watch(msgspec.Struct, frozen=True, kw_only=True):
    """Where the alarms of a line stand; not rewound when a fact comes late.

    Followed up to `at_ms`. `quarters` are counted by their ends, `flips` are silences that begin
    (True) or end at an instant not gone through yet, `waiting` facts and acts likewise.
    """

    at_ms: int = 0
    lives: Lives = {}
    estimate: Estimate | None = None
    water: MachineWater | None = None
    last_row_ms: int = 0
    silent: bool = False
    flips: tuple[tuple[int, bool], ...] = ()
    waiting: tuple[AnyEvent, ...] = ()
    quarters: dict[int, Quarter] = {}
    quarter: Quarter | None = None
    shut_pulses: tuple[int, ...] = ()
    flushed: int = 0
    flow: Flow = Flow()
    recent: Recent = Recent()
    meters: Meters = Meters()
    known: Known = Known()
    diagnosis: Diagnosis = Diagnosis()


class Came(msgspec.Struct, frozen=True, kw_only=True):
    """What one block brought to be watched."""

    rows: Rows
    draws: Draws
    estimates: tuple[Estimate, ...]
    events: tuple[AnyEvent, ...]
    end_ms: int
    until_ms: int


def told_at_ms(event: AnyEvent) -> int:
    """When an event reached the site; an act counts from then on."""
    return max(event.at_ms, event.known_at_ms) if isinstance(event, ACTS) else event.at_ms


def follow(
    line: LineSetup, local: LocalTime, watch: Watch, came: Came
) -> tuple[Watch, tuple[AlarmChange, ...]]:
    """Follow every alarm up to the instant until which all is known."""
    watch = _take_in(line, watch, came)
    if not watch.at_ms:
        first = _first_ms(watch, came.estimates)
        if first is None:
            return watch, ()
        flow = msgspec.structs.replace(watch.flow, last_ms=first)
        watch = msgspec.structs.replace(watch, at_ms=first - 1, flow=flow)
    watch = _late(line, watch, came.estimates)
    changes: list[AlarmChange] = []
    ahead = [e for e in came.estimates if e.at_ms > watch.at_ms]
    while (at_ms := _next_ms(watch, ahead)) <= came.until_ms:
        due = [e for e in ahead if e.at_ms <= at_ms]
        ahead = ahead[len(due) :]
        watch, made = _instant(line, local, watch, at_ms, due)
        changes += made
    return msgspec.structs.replace(watch, at_ms=max(watch.at_ms, came.until_ms)), tuple(changes)


def _take_in(line: LineSetup, watch: Watch, came: Came) -> Watch:
    """Count rows and draws into their quarters; note silences, facts and acts for their instants.

    Rows from before the instant followed so far are in what is known already.
    """
    rows = came.rows
    if len(rows) and int(rows.at_ms[0]) <= watch.last_row_ms:
        rows = rows.cut(int(np.searchsorted(rows.at_ms, watch.last_row_ms, "right")), len(rows))
    flips = (*watch.flips, *_silences(line, watch, rows, came.end_ms))
    quarters = with_draws(with_rows(watch.quarters, rows), came.draws)
    held = {event.event_id for event in watch.waiting if event.event_id}
    new = tuple(event for event in came.events if event.event_id not in held)
    return msgspec.structs.replace(
        watch,
        last_row_ms=int(rows.at_ms[-1]) if len(rows) else watch.last_row_ms,
        silent=flips[-1][1] if flips else watch.silent,
        flips=flips,
        quarters=quarters,
        waiting=tuple(sorted((*watch.waiting, *new), key=lambda e: (told_at_ms(e), e.event_id))),
    )


def _silences(
    line: LineSetup, watch: Watch, rows: Rows, end_ms: int
) -> tuple[tuple[int, bool], ...]:
    """Instants at which the meters fell silent (True) or spoke again (False)."""
    gap = round(line.limits.gap_s * 1000)
    at = rows.at_ms
    if watch.last_row_ms:
        at = np.concatenate(([watch.last_row_ms], at))
    if not len(at):
        return ()
    found: list[tuple[int, bool]] = []
    if watch.silent and len(at) > 1 and int(at[1] - at[0]) <= gap:
        found.append((int(at[1]), False))  # rows that were only on their way
    for place in np.flatnonzero(np.diff(at) > gap).tolist():
        if not (watch.silent and place == 0):
            found.append((int(at[place]) + gap, True))
        found.append((int(at[place + 1]), False))
    still_silent = watch.silent and len(at) == 1
    if end_ms - int(at[-1]) > gap and not still_silent:
        found.append((int(at[-1]) + gap, True))
    return tuple(found)


def _first_ms(watch: Watch, estimates: tuple[Estimate, ...]) -> int | None:
    """The beginning of the first quarter anything is known of."""
    firsts = [told_at_ms(e) for e in watch.waiting[:1]] + [e.at_ms for e in estimates[:1]]
    firsts += list(watch.quarters)[:1]
    return quarter_of(min(firsts)) - QUARTER_MS + 1 if firsts else None


def _late(line: LineSetup, watch: Watch, estimates: tuple[Estimate, ...]) -> Watch:
    """Take in what is about instants gone through already, without going back to them."""
    late = [e for e in estimates if e.at_ms <= watch.at_ms]
    if late and (watch.estimate is None or late[-1].at_ms >= watch.estimate.at_ms):
        watch = _estimated(line, watch, late[-1])
    past = tuple(e for e in watch.waiting if told_at_ms(e) <= watch.at_ms)
    for fact in past:
        if not isinstance(fact, ACTS):
            watch = _learn(watch, fact)
    acts = tuple(
        msgspec.structs.replace(act, known_at_ms=watch.at_ms + 1)
        for act in past
        if isinstance(act, ACTS)
    )
    waiting = (*acts, *(e for e in watch.waiting if told_at_ms(e) > watch.at_ms))
    gone = {end: quarter for end, quarter in watch.quarters.items() if end > watch.at_ms}
    return msgspec.structs.replace(watch, waiting=waiting, quarters=gone)


def with_late_fact(watch: Watch, fact: AnyEvent) -> Watch:
    """The watch that will take in a fact about instants it has gone through already."""
    return msgspec.structs.replace(watch, waiting=(*watch.waiting, fact))


def _next_ms(watch: Watch, estimates: list[Estimate]) -> int:
    """The next instant at which anything can move."""
    at = watch.at_ms
    next_ms = quarter_of(at + 1)
    if watch.flips:
        next_ms = min(next_ms, max(watch.flips[0][0], at + 1))
    if watch.waiting:
        next_ms = min(next_ms, max(told_at_ms(watch.waiting[0]), at + 1))
    if estimates:
        next_ms = min(next_ms, estimates[0].at_ms)
    for rule in line_rules():
        due = due_ms(rule, watch.lives.get(rule.name, BORN))
        if due is not None and at < due < next_ms:
            next_ms = due
    for span in (*watch.known.closures, *watch.known.works):
        for edge in span[:2]:
            if at < edge < next_ms:
                next_ms = edge
    return next_ms


def _instant(
    line: LineSetup, local: LocalTime, watch: Watch, at_ms: int, estimates: list[Estimate]
) -> tuple[Watch, list[AlarmChange]]:
    """Go to one instant: what comes at it, then every alarm once."""
    due = tuple(e for e in watch.waiting if told_at_ms(e) <= at_ms)
    silences = [flip for flip in watch.flips if flip[0] <= at_ms]
    watch = msgspec.structs.replace(
        watch, at_ms=at_ms, waiting=watch.waiting[len(due) :], flips=watch.flips[len(silences) :]
    )
    lives, changes = dict(watch.lives), list[AlarmChange]()
    for event in due:
        watch = _learn(watch, event)
        for rule in line_rules():
            lives[rule.name], made = by_hand(rule, lives.get(rule.name, BORN), event, at_ms)
            changes += made
    if estimates:
        watch = _estimated(line, watch, estimates[-1])
    if at_ms % QUARTER_MS == 0:
        watch = _end_quarter(line, local, watch)
    silent = _silent_at(watch, silences)
    lives, made_now = evaluate(line_rules(), lives, _situation(line, watch, silent), _quiet(watch))
    return msgspec.structs.replace(watch, lives=lives), changes + made_now


def _silent_at(watch: Watch, silences: list[tuple[int, bool]]) -> bool:
    """Whether the meters are silent now; `watch.silent` is how they are at the last row known."""
    if silences:
        return silences[-1][1]
    return not watch.flips[0][1] if watch.flips else watch.silent


def _estimated(line: LineSetup, watch: Watch, estimate: Estimate) -> Watch:
    water = None
    if line.limits.profile:
        water = machine_water(line.medium, watch.known.raw, estimate)
    return msgspec.structs.replace(watch, estimate=estimate, water=water)


def _learn(watch: Watch, fact: AnyEvent) -> Watch:
    """What a fact tells the alarms."""
    known, changes = watch.known, dict[str, Any]()
    match fact:
        case BypassSet():
            changes = {"bypass_set": fact.share}
        case Closure():
            changes = {"closures": _spans(known.closures, watch.at_ms, fact)}
        case Commissioning():
            changes = {"works": _spans(known.works, watch.at_ms, fact)}
        case Withdrawn():
            changes = {
                "closures": tuple(s for s in known.closures if s[2] != fact.withdraws),
                "works": tuple(s for s in known.works if s[2] != fact.withdraws),
            }
        case _:
            changes = {"raw": raw_test(known.raw, fact)}
    return msgspec.structs.replace(
        watch,
        known=msgspec.structs.replace(known, **changes),
        recent=worked_on(watch.recent, fact),
        diagnosis=learn(watch.diagnosis, fact),
    )


def _spans(spans: tuple[Span, ...], at_ms: int, fact: Closure | Commissioning) -> tuple[Span, ...]:
    """The spans that are not over yet, and a new one."""
    kept = (span for span in spans if span[1] > at_ms)
    return (*kept, (fact.at_ms, fact.until_ms, fact.event_id))


def _end_quarter(line: LineSetup, local: LocalTime, watch: Watch) -> Watch:
    """Take the quarter that ends now into what is known of flow and meters."""
    quarters = dict(watch.quarters)
    quarter = quarters.pop(watch.at_ms, NO_ROWS)
    recent, meters = watch.recent, Meters()
    if quarter.rows:
        recent, meters = judge(line, recent, quarter, watch.estimate, watch.at_ms)
    watch = msgspec.structs.replace(
        watch,
        quarters=quarters,
        quarter=quarter if quarter.rows else None,
        recent=recent,
        meters=meters,
    )
    if quarter.rows:
        watch = _follow_flow(line, local, watch, quarter)
    return _diagnosed(line, local, watch, quarter)


def _diagnosed(line: LineSetup, local: LocalTime, watch: Watch, quarter: Quarter) -> Watch:
    """Follow the diagnosis through the quarter that ends now."""
    flow = watch.flow
    seen = Seen(
        at_ms=watch.at_ms,
        quarter=quarter,
        meters=watch.meters,
        shut=bool(watch.shut_pulses),
        shut_l=flow.shut_l,
        shut_quarters=flow.shut_quarters,
        still_open_h=flow.still_open_h,
        usual_gap_h=flow.usual_gap_h,
        resets=sum(watch.recent.resets),
        estimate=watch.estimate,
    )
    return msgspec.structs.replace(watch, diagnosis=diagnose(line, local, watch.diagnosis, seen))


def _follow_flow(line: LineSetup, local: LocalTime, watch: Watch, quarter: Quarter) -> Watch:
    closed = _inside(watch.known.closures, watch.at_ms - QUARTER_MS // 2)
    shut = closed or _well_shut(line, local, watch.at_ms)
    pulses = (*watch.shut_pulses, quarter.pulses)[-4:] if shut else ()
    stood_ms = quarter.first_flow_ms - watch.flow.last_ms if quarter.pulses else 0
    long = stood_ms >= line.limits.standing_h * HOUR_MS
    flushed = quarter.pulses + (0 if long else watch.flushed)
    enough = flushed >= line.limits.flush_l * line.pulses_per_l
    flow = Flow(
        last_ms=quarter.last_flow_ms or watch.flow.last_ms,
        shut_l=sum(pulses) / line.pulses_per_l,
        shut_quarters=watch.flow.shut_quarters + 1 if shut and quarter.pulses else 0,
        still_open_h=_still_open_h(line, local, watch, quarter, closed),
        usual_gap_h=_usual_gap_h(watch.flow, quarter),
        unflushed=(watch.flow.unflushed or long) and not enough,
    )
    return msgspec.structs.replace(watch, shut_pulses=pulses, flushed=flushed, flow=flow)


def _well_shut(line: LineSetup, local: LocalTime, at_ms: int) -> bool:
    if never_shuts(line.opening):
        return False
    ends = (at_ms - QUARTER_MS, at_ms)
    return not any(is_open(line.opening, local, end, SHUT_MARGIN_MIN) for end in ends)


def _still_open_h(
    line: LineSetup, local: LocalTime, watch: Watch, quarter: Quarter, closed: bool
) -> float:
    """Hours of opening without flow; nights do not count, nor do they interrupt."""
    if quarter.pulses:
        return 0.0
    ends = (watch.at_ms - QUARTER_MS, watch.at_ms)
    opened = all(is_open(line.opening, local, end, OPEN_MARGIN_MIN) for end in ends)
    return watch.flow.still_open_h + (0.25 if opened and not closed else 0.0)


def _usual_gap_h(flow: Flow, quarter: Quarter) -> float:
    """What is usual here: a wait that ended by itself was none of a shut valve; fades in weeks."""
    if not quarter.pulses:
        return flow.usual_gap_h
    return max(GAP_FADES * flow.usual_gap_h, min(flow.still_open_h, LONGEST_USUAL_H))


def _situation(line: LineSetup, watch: Watch, silent: bool) -> Situation:
    known = watch.known.bypass_set
    return Situation(
        at_ms=watch.at_ms,
        line=line,
        estimate=watch.estimate,
        silent_since_ms=watch.last_row_ms if silent else None,
        quarter=watch.quarter,
        flow=watch.flow,
        meters=watch.meters,
        findings=watch.diagnosis.findings,
        bypass_set=line.bypass if known is None else known,
        water=watch.water,
    )


def _inside(spans: tuple[Span, ...], at_ms: int) -> bool:
    return any(begin <= at_ms < end for begin, end, _ in spans)


def _quiet(watch: Watch) -> frozenset[Quiet]:
    found = set()
    if _inside(watch.known.closures, watch.at_ms):
        found.add(Quiet.CLOSURE)
    if _inside(watch.known.works, watch.at_ms):
        found.add(Quiet.WORK)
    return frozenset(found)


def evaluate(
    some: tuple[Rule, ...], lives: Lives, now: Situation, quiet: frozenset[Quiet]
) -> tuple[Lives, list[AlarmChange]]:
    """Every one of these rules at one instant, those that hide others first."""
    after, changes = dict(lives), list[AlarmChange]()
    for rule in some:
        hidden = bool(quiet & rule.quiet) or any(
            after[name].phase in STANDING for name in rule.hidden_by if name in after
        )
        life = after.get(rule.name, BORN)
        after[rule.name], made = live_on(rule, life, now, hidden)
        changes += made
    return after, changes
