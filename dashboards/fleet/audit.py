"""The page Audit: every act of a person, under seal."""

from __future__ import annotations

import msgspec

from dashboards.fleet.asked import Answer, Answers, Asked, Sheet
from dashboards.fleet.table import Instant, csv_of
from dashboards.page import Given
from firmware_bridge.fleet.records import audit_rows, people_rows
from firmware_bridge.fleet.records.audit_rows import Sealed

A_PAGE = 100


class ShownAct(msgspec.Struct, frozen=True, kw_only=True):
    """One act."""

    number: int
    when: str
    who: str
    what: str
    about: str
    body: str
    seal: str


class AuditView(msgspec.Struct, frozen=True, kw_only=True):
    """The whole page."""

    sentence: str
    broken: bool
    head: str
    acts: tuple[ShownAct, ...]
    older: str


def page(asked: Asked) -> Answer:
    """The newest acts, or those before a number; every seal is checked each time."""
    checked = audit_rows.check(audit_rows.every(asked.connection))
    text = asked.query.get("before", "")
    before = int(text) if text.isascii() and text.isdecimal() and len(text) < 15 else None
    found = audit_rows.newest(asked.connection, A_PAGE, before)
    called = _called(asked, found)
    if checked.broken_at:
        sentence = asked.say("audit.broken", number=checked.broken_at)
    else:
        key = f"audit.whole.{asked.reader.language.counted(checked.rows)}"
        sentence = asked.say(key, n=checked.rows)
    view = AuditView(
        sentence=sentence,
        broken=bool(checked.broken_at),
        head=checked.head,
        acts=tuple(_shown(asked, act, called) for act in found),
        older=f"/audit?before={found[-1].audit_no}" if len(found) == A_PAGE else "",
    )
    return Sheet(template="fleet/audit.html", view=view)


def table(asked: Asked) -> Given:
    """All of it as CSV, to be kept elsewhere: the last seal proves what stands before it."""
    acts = list(audit_rows.every(asked.connection))
    called = _called(asked, acts)
    head = ("number", "at", "who", "act", "about", "body", "seal")
    rows = (
        (act.audit_no, Instant(act.at_ms), _who(asked, act, called), act.act, act.about, act.body,
         act.seal)
        for act in acts
    )  # fmt: skip
    return csv_of("audit.csv", head, rows)


def _called(asked: Asked, acts: list[Sealed]) -> dict[int, str]:
    numbers = {act.person_no for act in acts if act.person_no is not None}
    numbers |= {n for act in acts if (n := _person_in(act.about)) is not None}
    found = people_rows.names(asked.connection, numbers)
    erased = asked.say("people.erased")
    return {number: person.name or erased for number, person in found.items()}


def _shown(asked: Asked, act: Sealed, called: dict[int, str]) -> ShownAct:
    when = asked.when
    day = when.brief_medium(when.day(act.at_ms))
    number = _person_in(act.about)
    key = f"audit.act.{act.act}"
    return ShownAct(
        number=act.audit_no,
        when=f"{day}, {when.clock(act.at_ms)}",
        who=_who(asked, act, called),
        what=asked.say(key) if asked.reader.has(key) else act.act,
        about=act.about if number is None else called.get(number, act.about),
        body="" if act.body == "{}" else act.body,
        seal=act.seal[:12],
    )


def _who(asked: Asked, act: Sealed, called: dict[int, str]) -> str:
    if act.person_no is None:
        return asked.say("audit.machine")
    return called.get(act.person_no, f"person {act.person_no}")


def _person_in(about: str) -> int | None:
    word, _, number = about.partition(" ")
    sound = word == "person" and number.isascii() and number.isdecimal() and len(number) < 15
    return int(number) if sound else None


ANSWERS: Answers = {("GET", "/audit"): page, ("GET", "/audit.csv"): table}
AGAIN: dict[str, str] = {}
