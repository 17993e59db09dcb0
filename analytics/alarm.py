"""What an alarm is: a rule (when, how urgent, what to do) and its life (ISA-18.2 / IEC 62682).

A rule says by how much its limit is passed; the life adds on-delay, off-delay and deadband, and
knows who has seen it. All instants come from the data, so a journal is the same live and replayed.
"""

from __future__ import annotations

from collections.abc import Callable
from enum import StrEnum

import msgspec

from analytics.samples import Acknowledged, AlarmChange, AnyEvent, Estimate, Shelved
from analytics.setup import LineSetup


class Priority(StrEnum):
    """How urgent an alarm is."""

    HIGH = "high"
    MEDIUM = "medium"
    LOW = "low"


class Phase(StrEnum):
    """Where an alarm stands, in the words of ISA-18.2."""

    NORMAL = "normal"
    UNACKNOWLEDGED = "unacknowledged"
    ACKNOWLEDGED = "acknowledged"
    RETURNED = "returned-unacknowledged"


class Situation(msgspec.Struct, frozen=True, kw_only=True):
    """What a rule may look at."""

    at_ms: int
    line: LineSetup
    estimate: Estimate | None = None
    silent_since_ms: int | None = None
    """When the last row came, if it came too long ago."""


class Rule(msgspec.Struct, frozen=True, kw_only=True):
    """One alarm rule. `excess` is how far the limit is passed (> 0: active), None: cannot tell."""

    name: str
    priority: Priority
    cause: str
    consequence: str
    response: str
    respond_within: str
    excess: Callable[[Situation], float | None]
    text: Callable[[Situation], str]
    on_delay_s: float = 0.0
    off_delay_s: float = 0.0
    deadband: float = 0.0


class Life(msgspec.Struct, frozen=True, kw_only=True):
    """One alarm's life so far. `turning_ms` is when its condition last differed from its state."""

    phase: Phase = Phase.NORMAL
    turning_ms: int | None = None
    shelved_until_ms: int = 0

    @property
    def active(self) -> bool:
        """Whether the condition stands."""
        return self.phase in (Phase.UNACKNOWLEDGED, Phase.ACKNOWLEDGED)


def live_on(rule: Rule, life: Life, situation: Situation) -> tuple[Life, tuple[AlarmChange, ...]]:
    """Follow one alarm to this situation; changes carry the instant at which they became due."""
    excess = rule.excess(situation)
    if excess is None:
        return life, ()
    wanted = excess > (-rule.deadband if life.active else 0.0)
    if wanted == life.active:
        return msgspec.structs.replace(life, turning_ms=None), ()
    since = situation.at_ms if life.turning_ms is None else life.turning_ms
    delay = rule.on_delay_s if wanted else rule.off_delay_s
    due = since + round(delay * 1000)
    if due > situation.at_ms:
        return msgspec.structs.replace(life, turning_ms=since), ()
    if wanted:
        phase, change = Phase.UNACKNOWLEDGED, "raised"
    elif life.phase is Phase.ACKNOWLEDGED:
        phase, change = Phase.NORMAL, "cleared"
    else:
        phase, change = Phase.RETURNED, "cleared"
    moved = msgspec.structs.replace(life, phase=phase, turning_ms=None)
    return moved, (_change(rule, change, due, rule.text(situation)),)


def by_hand(rule: Rule, life: Life, event: AnyEvent) -> tuple[Life, tuple[AlarmChange, ...]]:
    """What a person did about this alarm: acknowledge it, or put it aside for a while."""
    if isinstance(event, Acknowledged) and event.alarm == rule.name:
        after = {Phase.UNACKNOWLEDGED: Phase.ACKNOWLEDGED, Phase.RETURNED: Phase.NORMAL}
        phase = after.get(life.phase)
        if phase is not None:
            moved = msgspec.structs.replace(life, phase=phase)
            return moved, (_change(rule, "acknowledged", event.at_ms, event.who),)
    if isinstance(event, Shelved) and event.alarm == rule.name:
        moved = msgspec.structs.replace(life, shelved_until_ms=event.until_ms)
        return moved, (_change(rule, "shelved", event.at_ms, event.note),)
    return life, ()


def _change(rule: Rule, change: str, at_ms: int, text: str) -> AlarmChange:
    return AlarmChange(
        at_ms=at_ms, alarm=rule.name, change=change, priority=rule.priority.value, text=text
    )
