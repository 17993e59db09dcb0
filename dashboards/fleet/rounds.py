"""The page Round: a day's stops in order, with what to bring; calendar file and sheet to print."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from urllib.parse import urlencode

import msgspec
from markupsafe import Markup

from analytics.errors import ActRefused
from dashboards.fleet.asked import Absent, Answer, Answers, Asked, Moved, Sheet
from dashboards.fleet.planning import (
    START,
    Call,
    Plan,
    kept_plan,
    place_of,
    place_words,
    proposed,
)
from dashboards.fleet.round_files import calendar_of, sheet_of_round
from dashboards.fleet.said import item_words, listed, load_words, reasons
from dashboards.fleet.standing import GLASSES, area_of, day_of, rounds_of
from dashboards.fleet.within import Link
from dashboards.page import Given
from dashboards.paper.make import SIZES
from dashboards.paper.typeset import pdf_of
from dashboards.signs import glass
from firmware_bridge.fleet.records import site_rows, visit_rows

MOST_DAYS = 8
LONGEST_NOTE = 500


class ShownCall(msgspec.Struct, frozen=True, kw_only=True):
    """One stop as it is shown."""

    number: int
    href: str
    name: str
    address: str
    at: str
    way: str
    glass: Markup
    said: tuple[str, ...]
    bring: str
    visit_no: int
    state: str
    state_words: str
    note: str


class RoundView(msgspec.Struct, frozen=True, kw_only=True):
    """The whole page."""

    sentence: str
    bring: str
    way: str
    day: str
    region: str
    tag: str
    sites: str
    start: str
    regions: tuple[str, ...]
    tags: tuple[str, ...]
    days: tuple[Link, ...]
    kept: bool
    calls: tuple[ShownCall, ...]
    left_out: tuple[ShownCall, ...]
    order: str
    calendar_href: str
    paper_href: str
    again_href: str


def page(asked: Asked) -> Answer:
    """The plan of a day where one was kept, else a proposal."""
    day = _day(asked)
    plan = None if "new" in asked.query else kept_plan(asked, day)
    plan = plan or proposed(asked, day)
    area = area_of(asked.query)
    chosen = {k: v for k, v in asked.query.items() if k in ("region", "tag", "sites", "from") and v}
    here = {"day": day.isoformat()}
    view = RoundView(
        sentence=_sentence(asked, plan),
        bring=_bring(asked, plan),
        way=_way(asked, plan),
        day=day.isoformat(),
        region=area.region,
        tag=area.tag,
        sites=asked.query.get("sites", "")[:500],
        start=asked.query.get("from") or place_words(plan.start),
        regions=tuple(site_rows.regions(asked.connection, asked.sight)),
        tags=tuple(site_rows.all_tags(asked.connection, asked.sight)),
        days=_days(asked, day),
        kept=plan.kept,
        calls=tuple(_shown(asked, call, n + 1) for n, call in enumerate(plan.calls)),
        left_out=tuple(_shown(asked, call, 0) for call in plan.left_out),
        order=",".join(str(call.site_no) for call in plan.calls),
        calendar_href=f"/round.ics?{urlencode(here)}",
        paper_href=f"/round.pdf?{urlencode(chosen | here)}",
        again_href=f"/round?{urlencode(chosen | here | {'new': 'yes'})}",
    )
    return Sheet(template="fleet/round.html", view=view)


def keep(asked: Asked) -> Answer:
    """Keep the order as the plan of the day, in place of what was still planned for it."""
    fields = asked.fields
    day = day_of(fields.get("day", ""), asked.when.today)
    if day is None:
        raise ActRefused([("day", "day")])
    numbers = _numbers(fields)
    seen = [site_rows.one(asked.connection, asked.sight, number) for number in numbers]
    stops = [visit_rows.Stop(site_no=s.site_no) for s in seen if s and s.state == "adopted"]
    if not stops:
        raise ActRefused([("stops", "no-stops")])
    start = place_of(fields.get("from", ""))
    if start is not None:
        asked.records.set_mark(asked.connection, START, place_words(start))
    visit_rows.plan(asked.connection, day.isoformat(), stops, asked.visit.person_no)
    asked.doer.write(
        asked.connection,
        "round.planned",
        f"day {day.isoformat()}",
        sites=[stop.site_no for stop in stops],
    )
    return Moved(to=f"/round?{urlencode({'day': day.isoformat()})}")


def settle(asked: Asked) -> Answer:
    """A stop was done, or dropped."""
    visit = visit_rows.one(asked.connection, asked.sight, asked.numbers["visit_no"])
    if visit is None:
        return Absent()
    state, note = asked.fields.get("state", ""), asked.fields.get("note", "").strip()
    if state not in visit_rows.STATES:
        raise ActRefused([("state", "state")])
    if len(note) > LONGEST_NOTE or not note.isprintable():
        raise ActRefused([("note", "text")])
    visit_rows.settle(asked.connection, visit.visit_no, state, note)
    about = f"site {visit.site_no}"
    asked.doer.write(asked.connection, f"visit.{state}", about, day=visit.day, visit=visit.visit_no)
    return Moved(to=f"/round?{urlencode({'day': visit.day})}")


def calendar(asked: Asked) -> Answer:
    """The plan of the day as an iCalendar file."""
    plan = kept_plan(asked, _day(asked))
    if plan is None:
        return Absent()
    body = calendar_of(asked, plan)
    name = f"round-{plan.day.isoformat()}.ics"
    return Given(body=body, kind="text/calendar; charset=utf-8", file_name=name)


def paper(asked: Asked) -> Answer:
    """The round as a sheet for the van."""
    day = _day(asked)
    plan = kept_plan(asked, day) or proposed(asked, day)
    size = asked.query.get("paper", "a4")
    sheet = sheet_of_round(asked, plan, size if size in SIZES else "a4")
    name = f"round-{day.isoformat()}.pdf"
    return Given(body=pdf_of(sheet), kind="application/pdf", file_name=name)


def _day(asked: Asked) -> date:
    return day_of(asked.query.get("day", ""), asked.when.today) or rounds_of(asked).next


def _numbers(fields: Mapping[str, str]) -> list[int]:
    """The sites in their order, without those that were not ticked."""
    found = [part for part in fields.get("order", "").split(",") if part.isascii()]
    return [int(n) for n in found if n.isdecimal() and len(n) < 15 and f"take{n}" in fields]


def _sentence(asked: Asked, plan: Plan) -> str:
    count = len(plan.calls)
    day = asked.when.long(plan.day)
    if not count:
        return asked.say("round.nobody", day=day)
    kind = "kept" if plan.kept else "proposed"
    key = f"round.{kind}.{asked.reader.language.counted(count)}"
    return asked.opening(key, n=asked.reader.count_word(count), day=day)


def _bring(asked: Asked, plan: Plan) -> str:
    load = load_words(asked, plan.items)
    return asked.say("due.bring", what=listed(asked, load)) if load else ""


def _way(asked: Asked, plan: Plan) -> str:
    if not plan.back_ms or not plan.calls:
        return asked.say("round.no-places") if plan.calls else ""
    return asked.say("round.way", km=round(plan.km), clock=asked.when.clock(plan.back_ms))


def _days(asked: Asked, day: date) -> tuple[Link, ...]:
    found = visit_rows.days(asked.connection, asked.when.today.isoformat(), MOST_DAYS)
    return tuple(
        Link(
            href=f"/round?{urlencode({'day': one})}",
            words=asked.say(
                "round.day", day=asked.when.brief_medium(date.fromisoformat(one)), n=count
            ),
            here=one == day.isoformat(),
        )
        for one, count in found
    )


def _shown(asked: Asked, call: Call, number: int) -> ShownCall:
    gravest = call.lines[0] if call.lines else None
    sign = GLASSES[gravest.due.need] if gravest else "unknown"
    visit = call.visit
    way = ""
    if call.arrive_ms and call.place is not None:
        way = asked.say(
            "round.drive",
            minutes=round(call.drive_min),
            km=asked.reader.decimal(f"{call.drive_km:.1f}"),
        )
    elif call.arrive_ms:
        way = asked.say("round.no-place")
    return ShownCall(
        number=number,
        href=f"/site/{call.site_no}/now",
        name=call.name,
        address=call.address,
        at=asked.when.clock(call.arrive_ms) if call.arrive_ms else "",
        way=way,
        glass=glass(sign, 34),
        said=tuple(dict.fromkeys(r for one in call.lines for r in reasons(asked, one))),
        bring=listed(asked, (item_words(asked, item) for item in call.items)),
        visit_no=visit.visit_no if visit else 0,
        state=visit.state if visit else "",
        state_words=asked.say(f"round.state.{visit.state}") if visit else "",
        note=visit.note if visit else "",
    )


ANSWERS: Answers = {
    ("GET", "/round"): page,
    ("POST", "/round"): keep,
    ("GET", "/round.ics"): calendar,
    ("GET", "/round.pdf"): paper,
    ("POST", "/visit/{visit_no:int}"): settle,
}
AGAIN = {"/round": "/round", "/visit/{visit_no:int}": "/round"}
