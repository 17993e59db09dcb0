"""The diagnosis of a line, followed from quarter to quarter of an hour.

What alarms already recognise (health of meters, leak, no flow) and what the estimate remarks is
named here, not found a second time; what days tell is in `slow.py`.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final

import msgspec

from analytics.diagnosis.days import HALF_MIN, Day, day_of, move_of
from analytics.diagnosis.faults import FAULTS, Finding, finding
from analytics.diagnosis.slow import found_in
from analytics.diagnosis.tally import NOTHING, Tally, together
from analytics.health import Health, Meters
from analytics.opening import never_shuts
from analytics.quarter import QUARTER_MS, Quarter
from analytics.samples import (
    DAY_MS,
    MINUTE_MS,
    AnyEvent,
    BypassSet,
    CartridgeFitted,
    CrossZero,
    Estimate,
    KFactorSet,
    MeterReplaced,
    ProbeCalibrated,
)
from analytics.setup import LineSetup, LocalTime

DAYS_KEPT: Final = 21
FALL_K: Final = 1.0
"""Standing water follows the room slowly: a fall by so much within a quarter is fresh water."""
UNSEEN: Final = 3
LEAK_QUARTERS: Final = 8
ENDLESS_QUARTERS: Final = 64
"""No place draws without a quarter of an hour's pause for so long: where no hours are stated, this
alone shows a leak."""
BEYOND_USUAL: Final = 1.25
RESETS: Final = 2
LEVEL_DAYS: Final = 5
CREPT: Final = 0.03
"""A film moves a level by more than this (ln) within the window."""
CHANGED_MS: Final = 5 * DAY_MS
"""A found change of the water or the cartridge stands in the list for so long."""
BY_HEALTH: Final = {
    "no-reading": "no-reading",
    "dry": "cell-dry",
    "short": "cell-short",
    "no-temp": "thermometer",
    "stuck": "probe-stuck",
    "swapped": "probes-exchanged",
    "doubtful": "readings-doubted",
    "resets": "counter-anew",
    "calibration": "calibration",
}
"""Why a meter's health is what it is, as a fault."""
BY_REMARK: Final = {
    "cartridge-unannounced": "cartridge-unannounced",
    "probes-exchanged": "probes-exchanged",
    "k-factor-off": "k-factor-off",
    "outlet-film": "film",
    "inlet-film": "film",
}
LEVELS: Final = ("film", "bypass-moved", "cartridge-unannounced", "raw-water-changed")
"""What moves the level of a probe that is sound."""
EXPLAINS: Final = {
    "clock-wrong": ("leak", "no-flow"),
    "data-gap": ("no-flow",),
    "leak": ("pulses-lost",),
    "flow-meter-stuck": ("no-flow",),
    "probes-exchanged": LEVELS,
    "thermometer": (*LEVELS, "bubbles", "probes-exchanged"),
    "probe-stuck": LEVELS,
    "cell-dry": (*LEVELS, "bubbles", "probes-exchanged"),
    "cell-short": (*LEVELS, "bubbles", "probes-exchanged"),
    "bubbles": LEVELS,
    "cartridge-unannounced": ("bypass-moved", "film"),
    "bypass-moved": ("film",),
    "raw-water-changed": ("film", "bypass-moved"),
}
"""A fault on the left is reason enough for those on the right."""
MAKES_NEW: Final = (
    CartridgeFitted, BypassSet, MeterReplaced, CrossZero, ProbeCalibrated, KFactorSet
)  # fmt: skip
"""After these what was usual holds no more."""


class Seen(msgspec.Struct, frozen=True, kw_only=True):
    """What a quarter of an hour brings: its rows, the meters' health, what flow says (litres and
    quarters with flow while shut, hours of opening without), counter resets of the last day, and
    the estimate."""

    at_ms: int
    quarter: Quarter
    meters: Meters
    shut: bool
    shut_l: float
    shut_quarters: int
    still_open_h: float
    usual_gap_h: float
    resets: int
    estimate: Estimate | None


class Diagnosis(msgspec.Struct, frozen=True, kw_only=True):
    """Where the diagnosis stands: the running local day, whole days before it, quarters running
    without rows, without a pulse and with some, those in which water moved since the last pulse,
    half hours of the day with flow (a bit each), what the days told, and all findings.
    """

    day: int = -1
    tally: Tally = NOTHING
    first_minute: int = -1
    wet_halves: int = 0
    days: tuple[Day, ...] = ()
    empty: int = 0
    dry: int = 0
    wet: int = 0
    unseen: int = 0
    slow: tuple[Finding, ...] = ()
    findings: tuple[Finding, ...] = ()


def learn(diagnosis: Diagnosis, fact: AnyEvent) -> Diagnosis:
    """A fact after which the levels of the days before say nothing."""
    if not isinstance(fact, MAKES_NEW):
        return diagnosis
    return msgspec.structs.replace(diagnosis, days=(), slow=())


def follow(line: LineSetup, local: LocalTime, diagnosis: Diagnosis, seen: Seen) -> Diagnosis:
    """Take in one quarter of an hour."""
    diagnosis = _turn(line, local, diagnosis, seen)
    diagnosis = _count(local, diagnosis, seen)
    now = (
        *_at_once(line, local, diagnosis, seen),
        *_remarked(line, diagnosis, seen),
        *diagnosis.slow,
    )
    return msgspec.structs.replace(diagnosis, findings=_sorted(diagnosis.findings, now))


def _turn(line: LineSetup, local: LocalTime, diagnosis: Diagnosis, seen: Seen) -> Diagnosis:
    """Close the local day that is over."""
    day = (seen.at_ms - 1 + local.offset_ms(seen.at_ms)) // DAY_MS
    if day == diagnosis.day:
        return diagnosis
    days = diagnosis.days
    if diagnosis.day >= 0 and diagnosis.tally != NOTHING:
        share = None if seen.estimate is None else seen.estimate.used_share
        whole = day_of(
            diagnosis.day,
            diagnosis.tally,
            diagnosis.first_minute,
            diagnosis.wet_halves,
            math.nan if share is None else share.p50,
        )
        if any(f.code == "leak" for f in diagnosis.findings):
            whole = msgspec.structs.replace(whole, rate=math.nan)  # a trickle is no cup's draw
        days = (*days, whole)[-DAYS_KEPT:]
    slow = tuple(found_in(line, local, days))
    return msgspec.structs.replace(
        diagnosis,
        day=day,
        days=days,
        slow=slow,
        tally=NOTHING,
        first_minute=-1,
        wet_halves=0,
    )


def _count(local: LocalTime, diagnosis: Diagnosis, seen: Seen) -> Diagnosis:
    quarter = seen.quarter
    fell = max(quarter.tally.outlet.fall_k, quarter.tally.inlet.fall_k) > FALL_K
    dry = 0 if quarter.pulses else diagnosis.dry + (1 if quarter.rows else 0)
    first, halves = diagnosis.first_minute, diagnosis.wet_halves
    if quarter.pulses:
        begun = _minute(local, quarter.first_flow_ms)
        first = begun if first < 0 else first
        halves |= 1 << begun // HALF_MIN
    return msgspec.structs.replace(
        diagnosis,
        tally=together((diagnosis.tally, quarter.tally)),
        first_minute=first,
        wet_halves=halves,
        empty=0 if quarter.rows else diagnosis.empty + 1,
        dry=dry,
        wet=diagnosis.wet + 1 if quarter.pulses else 0,
        unseen=diagnosis.unseen + (1 if fell and dry > 1 else 0) if dry else 0,
    )


def _minute(local: LocalTime, at_ms: int) -> int:
    return (at_ms + local.offset_ms(at_ms)) % DAY_MS // MINUTE_MS


def _at_once(
    line: LineSetup, local: LocalTime, diagnosis: Diagnosis, seen: Seen
) -> Iterator[Finding]:
    """What a quarter of an hour tells by itself."""
    at, quarter = seen.at_ms, seen.quarter
    if diagnosis.empty * QUARTER_MS >= line.limits.gap_s * 1000:
        yield finding("data-gap", at - diagnosis.empty * QUARTER_MS, 1.0)
    if 2 * quarter.tally.unsure > quarter.rows:
        yield finding("clock-wrong", at, 1.0)
    for which, health in (
        ("outlet", seen.meters.outlet),
        ("inlet", seen.meters.inlet),
        ("flow", seen.meters.flow),
    ):
        yield from _of_health(which, health, at)
    if seen.resets >= RESETS:
        yield finding("counter-anew", at, 0.9, "flow")
    yield from _of_flow(line, local, diagnosis, seen)
    yield from _held(line, diagnosis, seen)


def _of_health(which: str, health: Health | None, at_ms: int) -> Iterator[Finding]:
    code = None if health is None else BY_HEALTH.get(health.why)
    if code is not None:
        whose = "" if code == "probes-exchanged" else which
        yield finding(code, at_ms, 0.95, whose)


def _of_flow(
    line: LineSetup, local: LocalTime, diagnosis: Diagnosis, seen: Seen
) -> Iterator[Finding]:
    at, limits = seen.at_ms, line.limits
    if not line.flow_meter:
        return
    if diagnosis.wet >= ENDLESS_QUARTERS:
        yield finding("leak", at - diagnosis.wet * QUARTER_MS, 0.8)
    elif seen.shut_l > limits.leak_l_h or seen.shut_quarters >= LEAK_QUARTERS:
        yield finding("leak", at - seen.shut_quarters * QUARTER_MS, 0.9)
    since = at - diagnosis.dry * QUARTER_MS
    if diagnosis.unseen >= UNSEEN:
        yield finding("flow-meter-stuck", since, 0.9, "flow")
    waits = seen.still_open_h > max(limits.no_flow_h, BEYOND_USUAL * seen.usual_gap_h)
    if waits and _trades(line, local, diagnosis, seen.at_ms):
        yield finding("no-flow", since, 0.8)


def _trades(line: LineSetup, local: LocalTime, diagnosis: Diagnosis, at_ms: int) -> bool:
    """Whether the place should have been at work for long by now: by its hours, or by the weekday's
    habit where none are stated."""
    if not never_shuts(line.opening):
        return True
    firsts = [d.first_minute for d in diagnosis.days if (d.day - diagnosis.day) % 7 == 0]
    begun = max(firsts, default=0) + 60 * line.limits.no_flow_h
    return bool(firsts) and min(firsts) >= 0 and _minute(local, at_ms) > begun


def _held(line: LineSetup, diagnosis: Diagnosis, seen: Seen) -> Iterator[Finding]:
    """Findings that stand until the contrary is seen, not only while they are seen."""
    for old in diagnosis.findings:
        dry_night = (
            (seen.shut or never_shuts(line.opening))
            and seen.quarter.rows
            and not seen.quarter.pulses
        )
        right_way = seen.quarter.pairs > 1 and seen.quarter.swapped < seen.quarter.pairs
        if old.code == "leak" and not dry_night:
            yield old
        if old.code == "probes-exchanged" and not right_way:
            yield old


def _remarked(line: LineSetup, diagnosis: Diagnosis, seen: Seen) -> Iterator[Finding]:
    """What the estimate remarks and found, by its fault; a film that days do not show (yet) is
    not named, however the estimate likes to explain an old offset of the probes."""
    estimate = seen.estimate
    if estimate is None:
        return
    for remark in estimate.remarks:
        code = BY_REMARK.get(remark.code)
        since = remark.at_ms or seen.at_ms
        if code == "film" and not _crept(line, diagnosis.days):
            continue
        if code is not None:
            flow = "flow" if code == "k-factor-off" else remark.which
            yield finding(code, since, 0.7, flow)
    changed = estimate.change_ms if estimate.change == "source" else None
    if changed is not None and seen.at_ms - changed < CHANGED_MS:
        yield finding("raw-water-changed", changed, estimate.change_probability)


def _crept(line: LineSetup, days: tuple[Day, ...]) -> bool:
    """Whether enough days are known and their level moved as under a film."""
    levels = [d.ratio if line.inlet_probe else d.outlet for d in days]
    known = sum(math.isfinite(level) for level in levels)
    return known >= LEVEL_DAYS and abs(move_of(levels).by) >= CREPT


def _sorted(before: tuple[Finding, ...], now: tuple[Finding, ...]) -> tuple[Finding, ...]:
    """One finding a code and meter, since it was first seen; those another explains left out."""
    since = {(f.code, f.which): f.since_ms for f in before}
    explained = {code for f in now for code in EXPLAINS.get(f.code, ())}
    found: dict[tuple[str, str], Finding] = {}
    for one in now:
        key = (one.code, one.which)
        if one.code in explained or (key in found and found[key].confidence >= one.confidence):
            continue
        first = min(since.get(key, one.since_ms), one.since_ms)
        found[key] = msgspec.structs.replace(one, since_ms=first)
    return tuple(sorted(found.values(), key=lambda f: (list(FAULTS).index(f.code), f.which)))
