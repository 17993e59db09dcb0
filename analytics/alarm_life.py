"""The life of an alarm as ISA-18.2 / IEC 62682 have it.

                    raised                    acknowledged
      normal -----------------> unacknowledged ----------> acknowledged
        ^  ^                     |    ^                        |
        |  |             cleared |    | raised                 | cleared
        |  |                     v    |                        |
        |  +----acknowledged-- returned-unacknowledged         |
        +------------------------------------------------------+

Beside these: shelved (by a person, with reason and end; ends by itself), suppressed by design
(while an announced closure, announced work or an alarm that says more hides it) and out of service.
The condition is followed in all of them, so that what comes back from there comes back as it is. A
rule that is not active has nothing to suppress and stays normal. All instants come from the data,
so a journal is the same live and replayed.
"""

from __future__ import annotations

from enum import StrEnum

import msgspec

from analytics.alarm import Rule, Situation
from analytics.samples import (
    DAY_MS,
    Acknowledged,
    AlarmChange,
    AnyEvent,
    InService,
    OutOfService,
    Shelved,
    Unshelved,
)

LONGEST_SHELF_MS = 31 * DAY_MS
"""A shelf ends after this at the latest: nothing is forgotten there (common practice)."""


class Phase(StrEnum):
    """Where an alarm stands, in the words of ISA-18.2."""

    NORMAL = "normal"
    UNACKNOWLEDGED = "unacknowledged"
    ACKNOWLEDGED = "acknowledged"
    RETURNED = "returned-unacknowledged"
    SHELVED = "shelved"
    SUPPRESSED = "suppressed-by-design"
    OUT_OF_SERVICE = "out-of-service"


SET_ASIDE = (Phase.SHELVED, Phase.OUT_OF_SERVICE)
STANDING = (Phase.UNACKNOWLEDGED, Phase.ACKNOWLEDGED)


class Life(msgspec.Struct, frozen=True, kw_only=True):
    """One alarm's life so far.

    `active` is the condition after delays and deadband; `turning_ms` is since when it has differed
    from that.
    """

    phase: Phase = Phase.NORMAL
    active: bool = False
    turning_ms: int | None = None
    shelved_until_ms: int = 0


BORN = Life()

Lived = tuple[Life, tuple[AlarmChange, ...]]


def live_on(rule: Rule, life: Life, now: Situation, quiet: bool) -> Lived:
    """Follow one alarm to this instant; `quiet`: it is suppressed by design now."""
    changes: tuple[AlarmChange, ...] = ()
    if life.phase is Phase.SHELVED and now.at_ms >= life.shelved_until_ms:
        life, changes = _back(rule, life, now.at_ms, "unshelved", now)
    life = _condition(rule, life, now)
    phase, change = _after(rule, life, quiet)
    if phase is life.phase:
        return life, changes
    life = msgspec.structs.replace(life, phase=phase)
    return life, (*changes, _told(rule, life, change, now.at_ms, now))


def due_ms(rule: Rule, life: Life) -> int | None:
    """The instant at which this alarm may move by time alone; None: not before something else."""
    dues = []
    if life.turning_ms is not None:
        dues.append(_turned_ms(rule, life, life.turning_ms))
    if life.phase is Phase.SHELVED:
        dues.append(life.shelved_until_ms)
    return min(dues, default=None)


def by_hand(rule: Rule, life: Life, act: AnyEvent, at_ms: int) -> Lived:
    """What a person did about this alarm at this instant; what does not apply changes nothing."""
    if getattr(act, "alarm", None) != rule.name:
        return life, ()
    match act:
        case Acknowledged() if life.phase in (Phase.UNACKNOWLEDGED, Phase.RETURNED):
            seen = Phase.ACKNOWLEDGED if life.active else Phase.NORMAL
            return _by(rule, life, act, at_ms, "acknowledged", phase=seen)
        case Shelved() if life.phase is not Phase.OUT_OF_SERVICE and act.until_ms > at_ms:
            until = min(act.until_ms, at_ms + LONGEST_SHELF_MS)
            shelf = Phase.SHELVED
            return _by(rule, life, act, at_ms, "shelved", phase=shelf, shelved_until_ms=until)
        case Unshelved() if life.phase is Phase.SHELVED:
            return _by(rule, life, act, at_ms, "unshelved", phase=_as_it_is(life))
        case OutOfService() if life.phase is not Phase.OUT_OF_SERVICE:
            return _by(rule, life, act, at_ms, "out-of-service", phase=Phase.OUT_OF_SERVICE)
        case InService() if life.phase is Phase.OUT_OF_SERVICE:
            return _by(rule, life, act, at_ms, "in-service", phase=_as_it_is(life))
        case _:
            return life, ()


def _condition(rule: Rule, life: Life, now: Situation) -> Life:
    """The condition with deadband and delays; where the rule cannot tell it stays."""
    excess = rule.excess(now)
    if excess is None:
        return life
    wanted = excess > (-rule.deadband if life.active else 0.0)
    if wanted == life.active:
        return life if life.turning_ms is None else msgspec.structs.replace(life, turning_ms=None)
    since = now.at_ms if life.turning_ms is None else life.turning_ms
    if _turned_ms(rule, life, since) > now.at_ms:
        return msgspec.structs.replace(life, turning_ms=since)
    return msgspec.structs.replace(life, active=wanted, turning_ms=None)


def _turned_ms(rule: Rule, life: Life, since_ms: int) -> int:
    """When a condition that has differed since then counts."""
    delay_s = rule.off_delay_s if life.active else rule.on_delay_s
    return since_ms + round(delay_s * 1000)


def _after(rule: Rule, life: Life, quiet: bool) -> tuple[Phase, str]:
    """The phase the condition leads to, and what that change is called."""
    phase = life.phase
    if phase in SET_ASIDE:
        return phase, ""
    if life.active:
        if quiet and phase is not Phase.SUPPRESSED:
            return Phase.SUPPRESSED, "suppressed"
        if not quiet and phase is Phase.SUPPRESSED:
            return Phase.UNACKNOWLEDGED, "unsuppressed"
        if phase in (Phase.NORMAL, Phase.RETURNED):
            return Phase.UNACKNOWLEDGED, "raised"
        return phase, ""
    if phase in (Phase.ACKNOWLEDGED, Phase.SUPPRESSED):
        return Phase.NORMAL, "cleared"
    if phase is Phase.UNACKNOWLEDGED:
        return (Phase.RETURNED if rule.must_be_seen else Phase.NORMAL), "cleared"
    return phase, ""


def _as_it_is(life: Life) -> Phase:
    """Where an alarm comes back to that was set aside."""
    return Phase.UNACKNOWLEDGED if life.active else Phase.NORMAL


def _back(rule: Rule, life: Life, at_ms: int, change: str, now: Situation) -> Lived:
    life = msgspec.structs.replace(life, phase=_as_it_is(life), shelved_until_ms=0)
    return life, (_told(rule, life, change, at_ms, now),)


def _told(rule: Rule, life: Life, change: str, at_ms: int, now: Situation) -> AlarmChange:
    return AlarmChange(
        at_ms=at_ms,
        alarm=rule.name,
        change=change,
        priority=rule.priority.value,
        state=life.phase.value,
        word=rule.word(now),
        numbers=rule.numbers(now),
    )


def _by(
    rule: Rule,
    life: Life,
    act: AnyEvent,
    at_ms: int,
    change: str,
    *,
    phase: Phase,
    shelved_until_ms: int = 0,
) -> Lived:
    life = msgspec.structs.replace(life, phase=phase, shelved_until_ms=shelved_until_ms)
    told = AlarmChange(
        at_ms=at_ms,
        alarm=rule.name,
        change=change,
        priority=rule.priority.value,
        state=phase.value,
        text=act.note,
        who=act.who,
        until_ms=shelved_until_ms or None,
    )
    return life, (told,)
