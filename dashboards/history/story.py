"""The one sentence over a span: what a person would tell of it first."""

from __future__ import annotations

import math

from analytics.samples import DAY_MS, CartridgeFitted, Estimate
from dashboards.history.marks import days_of
from dashboards.history.record import Record
from dashboards.phrases.reader import Reader
from dashboards.phrases.times import When
from dashboards.state import RAW_CHANGED

PAST = 0.5
EARLY_SHARE = 0.25
"""A cartridge changed with more than this of its life left was changed early."""
LONG_GAP_MS = DAY_MS


def story(record: Record, reader: Reader, when: When) -> str:
    """The most telling fact of the span, or that nothing stood out."""
    tellers = (_before_change, _alarm, _source, _silence)
    for teller in tellers:
        said = teller(record, reader, when)
        if said:
            return said
    if record.first_ms is None or record.first_ms >= record.span.to_ms:
        return reader.say("history.story.nothing-yet")
    return reader.say("history.story.quiet")


def _before_change(record: Record, reader: Reader, _: When) -> str:
    """How the cartridge before the last change stood when it was changed."""
    changes = [e for e in record.events if isinstance(e, CartridgeFitted)]
    if not changes:
        return ""
    fitted = changes[-1]
    before = [e for e in record.estimates if e.at_ms < fitted.at_ms]
    previous = [e for e in before if e.cartridge_id == before[-1].cartridge_id] if before else []
    if not previous or fitted.at_ms - previous[-1].at_ms > 3 * DAY_MS:
        return ""
    worn = _up_to_most_used(previous)
    return _overrun(worn, fitted.at_ms, reader) or _early(worn[-1], reader)


def _up_to_most_used(previous: list[Estimate]) -> list[Estimate]:
    """Without what came after the change, where the bed showed it before a person entered it."""
    used = [0.0 if e.used_share is None else e.used_share.p50 for e in previous]
    return previous[: used.index(max(used)) + 1]


def _overrun(previous: list[Estimate], changed_ms: int, reader: Reader) -> str:
    past = next((e.at_ms for e in previous if e.end_probability >= PAST), None)
    if past is None or previous[-1].end_probability < PAST:
        return ""
    days = round((changed_ms - past) / DAY_MS)
    if days < 1:
        return reader.say("history.story.in-time")
    if days == 1:
        return reader.say("history.story.overrun-one")
    return reader.say("history.story.overrun", n=reader.count_word(days))


def _early(last: Estimate, reader: Reader) -> str:
    if last.used_share is None or not last.trusted:
        return ""
    left = 1.0 - last.used_share.p50
    if left < EARLY_SHARE:
        return reader.say("history.story.in-time")
    return reader.say("history.story.early", share=reader.share(left))


def _alarm(record: Record, reader: Reader, when: When) -> str:
    high = [a for a in record.alarms if a.priority == "high"]
    if not high:
        return ""
    alarm = high[-1]
    key = f"history.story.alarm.{alarm.alarm}"
    days = days_of(alarm, reader, when)
    if reader.has(key):
        return reader.say(key, days=days)
    return reader.say("history.story.alarm", days=days)


def _source(record: Record, reader: Reader, when: When) -> str:
    changed = [a for a in record.alarms if a.alarm == RAW_CHANGED]
    if not changed:
        return ""
    return reader.say("history.story.source", day=when.long(when.day(changed[-1].from_ms)))


def _silence(record: Record, reader: Reader, _: When) -> str:
    longest = max((g.until_ms - g.from_ms for g in record.gaps if g.what == "meters"), default=0)
    if longest < LONG_GAP_MS:
        return ""
    days = math.floor(longest / DAY_MS)
    if days == 1:
        return reader.say("history.story.silent-one")
    return reader.say("history.story.silent", n=reader.count_word(days))
