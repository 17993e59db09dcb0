"""The page Alarms: what stands, since when, what it means, what to do; and the journal."""

from __future__ import annotations

import msgspec
from markupsafe import Markup

from analytics.samples import DAY_MS, HOUR_MS, AlarmChange
from analytics.setup import LocalTime
from dashboards.history.span import stamp
from dashboards.open_alarms import open_alarms
from dashboards.page import Asked, Page
from dashboards.pages.now import demo_note
from dashboards.phrases.alarm_words import AlarmWords, alarm_words
from dashboards.phrases.reader import Reader
from dashboards.phrases.times import When
from dashboards.signs import DROP_STATES, drops
from firmware_bridge.logbook.acts import new_id

JOURNAL_MS = 90 * DAY_MS
MOST_CHANGES = 150
SHELVES = (("hour", HOUR_MS), ("day", DAY_MS), ("week", 7 * DAY_MS))
"""For how long an alarm can be put aside with one touch."""
THE_BOX = ""
"""The line of alarms that concern the box itself."""


class Standing(msgspec.Struct, frozen=True, kw_only=True):
    """An alarm that is not normal; `acts` are what can be done about it now."""

    sign: Markup
    line: str
    name: str
    words: AlarmWords
    state: str
    priority: str
    since: str
    acts: tuple[str, ...]
    shelves: tuple[tuple[str, str], ...]
    once: str


class Change(msgspec.Struct, frozen=True, kw_only=True):
    """One line of the journal."""

    when: str
    line: str
    told: str
    what: str
    who: str
    sign: Markup


class AlarmsView(msgspec.Struct, frozen=True, kw_only=True):
    """The whole page."""

    site: str
    what: str
    service: str
    demo: str
    sentence: str
    standing: tuple[Standing, ...]
    aside: tuple[Standing, ...]
    journal: tuple[Change, ...]
    several: bool


def answer(asked: Asked) -> AlarmsView:
    """What stands on every line and on the box, the most urgent first."""
    facts, reader, when = asked.facts, asked.reader, asked.when
    changes = asked.source.journal(facts.now_ms - JOURNAL_MS, facts.now_ms + 1)
    found = [(line.setup.line_id, alarm) for line in facts.lines for alarm in line.alarms]
    box = [change for line_id, change in changes if line_id == THE_BOX]
    found += [(THE_BOX, alarm) for alarm in open_alarms(box, (), facts.now_ms)]
    ordered = sorted(found, key=lambda pair: (_order(pair[1]), -pair[1].at_ms))
    local = facts.setup.local_time
    every = tuple(_standing(line, alarm, reader, when, local) for line, alarm in ordered)
    standing = tuple(s for s in every if s.state not in ASIDE)
    aside = tuple(s for s in every if s.state in ASIDE)
    return AlarmsView(
        site=facts.setup.name,
        what=facts.setup.what,
        service=facts.setup.service,
        demo=demo_note(facts, reader, when),
        sentence=_sentence(standing, reader),
        standing=standing,
        aside=aside,
        journal=tuple(_change(*pair, reader, when) for pair in reversed(changes[-MOST_CHANGES:])),
        several=len(facts.lines) > 1,
    )


ASIDE = ("shelved", "suppressed", "out-of-service")
PRIORITIES = ("high", "medium", "low")


def _order(alarm: AlarmChange) -> int:
    return PRIORITIES.index(alarm.priority) if alarm.priority in PRIORITIES else len(PRIORITIES)


def _sentence(standing: tuple[Standing, ...], reader: Reader) -> str:
    if not standing:
        return reader.say("alarms.none-stand")
    if len(standing) == 1:
        return reader.say("alarms.one-stands")
    said = reader.say("alarms.some-stand", n=reader.count_word(len(standing)))
    return said[:1].upper() + said[1:]


def _standing(
    line: str, alarm: AlarmChange, reader: Reader, when: When, local: LocalTime
) -> Standing:
    shelves = tuple(
        (stamp(local, when.now_ms + length), reader.say(f"alarms.shelf.{name}"))
        for name, length in SHELVES
    )
    return Standing(
        sign=drops(alarm.priority, alarm.change),
        line=line,
        name=alarm.alarm,
        words=alarm_words(alarm, reader),
        state=alarm.change,
        priority=reader.say(f"priority.{alarm.priority}"),
        since=reader.say("alarms.since", moment=when.moment(alarm.at_ms)),
        acts=ACTS.get(alarm.change, ()),
        shelves=shelves,
        once=new_id(),
    )


ACTS = {
    "raised": ("acknowledged", "shelved"),
    "acknowledged": ("shelved",),
    "cleared": ("acknowledged",),
    "shelved": ("unshelved",),
    "out-of-service": ("in-service",),
}
"""What a person can do about an alarm as it stands; nothing about one suppressed by design."""


def _change(line: str, change: AlarmChange, reader: Reader, when: When) -> Change:
    state = change.change if change.change in DROP_STATES else "acknowledged"
    return Change(
        when=f"{when.brief_medium(when.day(change.at_ms))}, {when.clock(change.at_ms)}",
        line=line,
        told=alarm_words(change, reader).title,
        what=reader.say(f"happened.{change.change}"),
        who=change.who,
        sign=drops(change.priority, state),
    )


PAGE = Page(path="/alarms", title="alarms.page", order=30, template="alarms.html", answer=answer)
