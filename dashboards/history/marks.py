"""What people did and what became of the main, as marks on the time axis; alarms in words."""

from __future__ import annotations

from collections.abc import Callable

import msgspec

from analytics.samples import (
    AnyEvent,
    BypassSet,
    CartridgeFitted,
    CrossZero,
    KFactorSet,
    ProbeCalibrated,
)
from dashboards.history.record import AlarmSpan, Record
from dashboards.phrases.reader import Reader
from dashboards.phrases.times import When
from dashboards.state import RAW_CHANGED


class Mark(msgspec.Struct, frozen=True, kw_only=True):
    """A diamond on the axis."""

    at_ms: int
    words: str


def marks_of(record: Record, reader: Reader, when: When) -> tuple[Mark, ...]:
    """Acts of people in the span and changes of the raw water."""
    found = [
        Mark(at_ms=event.at_ms, words=words)
        for event in record.events
        if (words := _words(event, reader, when)) is not None
    ]
    found += [
        Mark(at_ms=alarm.from_ms, words=reader.say("history.mark.source"))
        for alarm in record.alarms
        if alarm.alarm == RAW_CHANGED and record.span.from_ms <= alarm.from_ms
    ]
    return tuple(sorted(found, key=lambda mark: mark.at_ms))


def _words(event: AnyEvent, reader: Reader, when: When) -> str | None:
    for kind, word in _KINDS.items():
        if isinstance(event, kind):
            return word(event, reader, when)
    return None


def _changed(event: AnyEvent, reader: Reader, when: When) -> str:
    return reader.say("history.mark.changed", day=when.brief(when.day(event.at_ms)))


def _bypass(event: AnyEvent, reader: Reader, _: When) -> str:
    assert isinstance(event, BypassSet)
    return reader.say("history.mark.bypass", share=reader.share(event.share))


def _calibrated(_: AnyEvent, reader: Reader, __: When) -> str:
    return reader.say("history.mark.calibrated")


_KINDS: dict[type, Callable[[AnyEvent, Reader, When], str]] = {
    CartridgeFitted: _changed,
    BypassSet: _bypass,
    KFactorSet: _calibrated,
    ProbeCalibrated: _calibrated,
    CrossZero: _calibrated,
}


def alarm_words(record: Record, reader: Reader, when: When) -> tuple[AlarmSpan, str] | None:
    """The longest alarm of the span that matters, with its days."""
    found = [a for a in record.alarms if a.priority != "low"]
    if not found:
        return None
    longest = max(
        found, key=lambda a: (record.now_ms if a.until_ms is None else a.until_ms) - a.from_ms
    )
    return longest, reader.say("history.alarm", days=days_of(longest, reader, when))


def days_of(alarm: AlarmSpan, reader: Reader, when: When) -> str:
    """ "30 Mar-3 Apr" with an en dash, or "since 30 Mar"."""
    first = when.day(alarm.from_ms)
    if alarm.until_ms is None:
        return reader.say("history.since", day=when.brief(first))
    return when.brief_range(first, when.day(alarm.until_ms))
