"""Which alarms are not normal, folded from their stored changes."""

from __future__ import annotations

from collections.abc import Iterable

import msgspec

from analytics.samples import Acknowledged, AlarmChange, AnyEvent, Shelved

PRIORITY_ORDER = {"high": 0, "medium": 1, "low": 2}
STANDS = ("raised", "unsuppressed")
AS_IT_STANDS = {
    "unacknowledged": "raised",
    "acknowledged": "acknowledged",
    "returned-unacknowledged": "cleared",
    "shelved": "shelved",
    "suppressed-by-design": "suppressed",
    "out-of-service": "out-of-service",
}
"""How a state of ISA-18.2 is called where an alarm is listed."""


def open_alarms(
    changes: Iterable[AlarmChange], acts: Iterable[AnyEvent], now_ms: int
) -> tuple[AlarmChange, ...]:
    """Each alarm that is not normal, with the instant and figures of its raising.

    `change` becomes how it stands now: raised (not acknowledged), acknowledged, cleared (returned
    to normal, not acknowledged), shelved, suppressed (by design) or out-of-service. `acts` that the
    journal does not have yet count already. The highest priority comes first, then the newest.
    """
    standing: dict[str, AlarmChange] = {}
    heard: dict[str, int] = {}
    for change in changes:
        heard[change.alarm] = change.at_ms
        after = _after(standing.get(change.alarm), change)
        if after is None:
            standing.pop(change.alarm, None)
        else:
            standing[change.alarm] = after
    for act in acts:
        _foresee(standing, heard, act, now_ms)
    return tuple(sorted(standing.values(), key=_rank))


def _foresee(
    standing: dict[str, AlarmChange], heard: dict[str, int], act: AnyEvent, now_ms: int
) -> None:
    """What an act will do once the journal has it."""
    if isinstance(act, Shelved) and act.at_ms <= now_ms < act.until_ms:
        on_shelf = standing.get(act.alarm)
        if on_shelf is not None and (not on_shelf.state or act.at_ms >= heard[act.alarm]):
            standing[act.alarm] = msgspec.structs.replace(on_shelf, change="shelved")
    if isinstance(act, Acknowledged) and act.at_ms >= heard.get(act.alarm, act.at_ms + 1):
        seen = standing.get(act.alarm)
        if seen is not None and seen.change == "raised":
            standing[act.alarm] = msgspec.structs.replace(seen, change="acknowledged")
        elif seen is not None and seen.change == "cleared":
            del standing[act.alarm]


def _after(before: AlarmChange | None, change: AlarmChange) -> AlarmChange | None:
    """How an alarm stands after a change; None is normal."""
    if not change.state:
        return _after_stateless(before, change)
    if change.state == "normal":
        return None
    word = AS_IT_STANDS.get(change.state, change.state)
    if before is None or change.change in STANDS:
        return msgspec.structs.replace(change, change=word)
    return msgspec.structs.replace(before, change=word, state=change.state)


def _after_stateless(before: AlarmChange | None, change: AlarmChange) -> AlarmChange | None:
    """The same for a change of a file from before states were stored with it."""
    if change.change == "raised":
        return change
    if before is None or change.change == "shelved":
        return before
    both = {before.change, change.change}
    if both == {"acknowledged", "cleared"}:
        return None
    return msgspec.structs.replace(before, change=change.change)


def _rank(alarm: AlarmChange) -> tuple[int, int]:
    return PRIORITY_ORDER.get(alarm.priority, 3), -alarm.at_ms
