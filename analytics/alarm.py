"""What an alarm is: a rule (when, how urgent) and what it may look at (ISA-18.2 / IEC 62682).

A rule says by how much its limit is passed and which figures tell of it; cause, consequence and
response in a person's words stand in the catalogue under the rule's name. The life that adds delays
and knows who has seen it is in `alarm_life.py`.
"""

from __future__ import annotations

from collections.abc import Callable
from enum import StrEnum
from functools import cache

import msgspec

from analytics.diagnosis.faults import Finding
from analytics.health import Health, Meters
from analytics.machine_water import MachineWater
from analytics.quarter import Quarter
from analytics.registry import discover
from analytics.samples import Estimate, Spread
from analytics.setup import HostLimits, LineSetup


class Priority(StrEnum):
    """How urgent an alarm is."""

    HIGH = "high"
    MEDIUM = "medium"
    LOW = "low"


class Quiet(StrEnum):
    """What suppresses an alarm by design."""

    CLOSURE = "closure"
    """An announced closure of the place."""
    WORK = "work"
    """Announced work on the line."""


class Flow(msgspec.Struct, frozen=True, kw_only=True):
    """What the quarters so far say of the flow.

    `shut_l` and `shut_quarters` are litres of the last hour and quarters running with flow while
    the place was well shut; `still_open_h` hours of opening since the last flow, `usual_gap_h` the
    longest such wait of late that ended by itself. `unflushed`: too little has flowed since the
    water stood too long.
    """

    last_ms: int = 0
    shut_l: float = 0.0
    shut_quarters: int = 0
    still_open_h: float = 0.0
    usual_gap_h: float = 0.0
    unflushed: bool = False


class Host(msgspec.Struct, frozen=True, kw_only=True):
    """How the box is doing, as plain values; `sinks_late_s` is for how long each sink that has rows
    waiting has got nothing across, `rescued_ms` when the record was last found damaged."""

    at_ms: int
    disk_free_mb: float | None = None
    store_full: bool = False
    clock_sane: bool = True
    sinks_late_s: dict[str, float] = {}
    rescued_ms: int | None = None
    limits: HostLimits = HostLimits()


class Situation(msgspec.Struct, frozen=True, kw_only=True):
    """What a rule may look at."""

    at_ms: int
    line: LineSetup
    estimate: Estimate | None = None
    silent_since_ms: int | None = None
    """When the last row came, if it came too long ago."""
    quarter: Quarter | None = None
    """The last full quarter of an hour that had rows, if the meters speak."""
    flow: Flow = Flow()
    meters: Meters = Meters()
    findings: tuple[Finding, ...] = ()
    """Faults that are told apart, those that explain others first."""
    bypass_set: float = 0.0
    water: MachineWater | None = None
    host: Host | None = None


def _nothing(_: Situation) -> dict[str, float]:
    return {}


def _no_word(_: Situation) -> str:
    return ""


class Rule(msgspec.Struct, frozen=True, kw_only=True):
    """One alarm rule. `excess` is how far the limit is passed (> 0: active), None: cannot tell.

    `numbers` and `word` are told with a change. `hidden_by` names alarms that say more: while one
    of them stands, this one is suppressed by design, as in any of `quiet`. Without `must_be_seen`
    an alarm that has returned to normal needs no acknowledgement. `of_site`: the alarm is about the
    box, not about a line.
    """

    name: str
    priority: Priority
    respond_within_s: float
    excess: Callable[[Situation], float | None]
    numbers: Callable[[Situation], dict[str, float]] = _nothing
    word: Callable[[Situation], str] = _no_word
    on_delay_s: float = 0.0
    off_delay_s: float = 0.0
    deadband: float = 0.0
    hidden_by: tuple[str, ...] = ()
    quiet: frozenset[Quiet] = frozenset()
    must_be_seen: bool = True
    of_site: bool = False


HOUR_S = 3600.0
DAY_S = 86_400.0


@cache
def rules() -> tuple[Rule, ...]:
    """Every alarm rule there is, one a file of `analytics/alarms`."""
    return tuple(discover("analytics.alarms", "RULE", Rule).values())


@cache
def line_rules() -> tuple[Rule, ...]:
    """The rules of a line, those that hide others before those they hide."""
    return _hiding_first(tuple(rule for rule in rules() if not rule.of_site))


@cache
def site_rules() -> tuple[Rule, ...]:
    """The rules of the box."""
    return _hiding_first(tuple(rule for rule in rules() if rule.of_site))


def _hiding_first(some: tuple[Rule, ...]) -> tuple[Rule, ...]:
    """Ordered so that every rule comes after those in its `hidden_by`; raises ValueError for a
    ring."""
    names, placed, waiting = {r.name for r in some}, list[Rule](), list(some)
    while waiting:
        done = {rule.name for rule in placed}
        ready = [r for r in waiting if set(r.hidden_by) & names <= done]
        if not ready:
            raise ValueError(f"alarm rules hide each other: {[r.name for r in waiting]}")
        placed += ready
        waiting = [rule for rule in waiting if rule not in ready]
    return tuple(placed)


def spread_numbers(name: str, spread: Spread | None) -> dict[str, float]:
    """A spread as numbers of a change: `<name>_p50`, `_p05`, `_p95`; none where it is not known."""
    if spread is None:
        return {}
    return {f"{name}_{part}": getattr(spread, part) for part in ("p50", "p05", "p95")}


def numbers_left(now: Situation) -> dict[str, float]:
    """Litres and days left as numbers of a change."""
    if now.estimate is None:
        return {}
    return spread_numbers("remaining_l", now.estimate.remaining_l) | spread_numbers(
        "days_left", now.estimate.days_left
    )


def active_if(condition: bool) -> float:
    """An excess for what is either so or not."""
    return 1.0 if condition else -1.0


def of_health(meter: Callable[[Meters], Health | None], *words: str) -> Callable[..., float | None]:
    """The excess of a rule that stands while a meter's health is one of these words."""

    def excess(now: Situation) -> float | None:
        health = meter(now.meters)
        return None if health is None else active_if(health.word in words)

    return excess


def health_word(meter: Callable[[Meters], Health | None]) -> Callable[[Situation], str]:
    """The word of a rule about a meter: its health and why, such as "failure-dry"."""

    def word(now: Situation) -> str:
        health = meter(now.meters)
        return "" if health is None else f"{health.word}-{health.why}"

    return word
