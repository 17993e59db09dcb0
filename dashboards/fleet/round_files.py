"""A round to take along: as a calendar file (RFC 5545) and as a sheet on paper."""

from __future__ import annotations

from datetime import UTC, datetime
from importlib.metadata import version

from dashboards.fleet.asked import Asked
from dashboards.fleet.planning import Call, Plan
from dashboards.fleet.said import item_words, listed, load_words, reasons
from dashboards.paper.sheet import Facts, Row, Sheet, Table, Words


def calendar_of(asked: Asked, plan: Plan) -> bytes:
    """One entry a stop; without times (no place is known) they are entries of the whole day."""
    from icalendar import Calendar, Event, vGeo  # loaded only where a file is made

    calendar = Calendar()
    calendar.add("prodid", f"-//lastlitre//{version('lastlitre')}//EN")
    calendar.add("version", "2.0")
    for call in plan.calls:
        event = Event()
        visit_no = call.visit.visit_no if call.visit else 0
        event.add("uid", f"visit-{visit_no}@lastlitre")
        event.add("dtstamp", _instant(asked.now_ms))
        event.add("summary", call.name)
        if call.arrive_ms:
            event.add("dtstart", _instant(call.arrive_ms))
            event.add("dtend", _instant(call.leave_ms))
        else:
            event.add("dtstart", plan.day)
        if call.address:
            event.add("location", call.address)
        if call.place is not None:
            event["geo"] = vGeo((call.place.latitude, call.place.longitude))
        event.add("description", "\n".join(_told(asked, call)))
        if call.visit is not None and call.visit.state == "dropped":
            event.add("status", "CANCELLED")
        calendar.add_component(event)
    return bytes(calendar.to_ical())


def sheet_of_round(asked: Asked, plan: Plan, paper: str) -> Sheet:
    """The sheet for the van: what to bring, then the stops in order with room to write."""
    say, when = asked.say, asked.when
    load = load_words(asked, plan.items)
    count = len(plan.calls)
    key = f"round.kept.{asked.reader.language.counted(count)}" if count else "round.nobody"
    sentence = asked.opening(key, n=asked.reader.count_word(count), day=when.long(plan.day))
    rows = [
        Row(
            title=say("round.bring"),
            blocks=tuple(Words(text=text, weight="strong") for text in load)
            or (Words(text=say("round.bring-nothing")),),
        ),
        *(_stop_row(asked, call, n + 1) for n, call in enumerate(plan.calls)),
    ]
    made = say("paper.made", moment=when.long(when.today))
    return Sheet(
        language=asked.reader.language.code,
        kind=say("fleet.round"),
        site=asked.house.company,
        sentence=sentence,
        foot=say("paper.foot"),
        program=f"{say('paper.program', version=version('lastlitre'))}, {made}",
        page_words=asked.reader.language.texts["paper.page"],
        paper=paper,
        rows=tuple(rows),
    )


def _stop_row(asked: Asked, call: Call, number: int) -> Row:
    clock = asked.when.clock(call.arrive_ms) if call.arrive_ms else ""
    facts = [
        (asked.say("round.head.address"), call.address),
        (asked.say("round.head.bring"), listed(asked, (item_words(asked, i) for i in call.items))),
        (asked.say("round.head.note"), call.visit.note if call.visit else ""),
    ]
    told = tuple(Words(text=text) for text in _reasons(asked, call))
    head = (asked.say("round.head.line"), asked.say("round.head.cartridge"),
            asked.say("round.head.done"))  # fmt: skip
    lines = tuple((one.row.line, one.row.cartridge, "") for one in call.lines)
    blocks = (
        Words(text=call.name, weight="strong"),
        *told,
        *((Facts(rows=kept),) if (kept := tuple(f for f in facts if f[1])) else ()),
        *((Table(head=head, rows=lines, wide=2),) if lines else ()),
    )
    return Row(title=f"{number}. {clock}".strip(), blocks=blocks)


def _told(asked: Asked, call: Call) -> list[str]:
    bring = listed(asked, (item_words(asked, item) for item in call.items))
    told = _reasons(asked, call)
    return [*told, asked.say("due.bring", what=bring)] if bring else told


def _reasons(asked: Asked, call: Call) -> list[str]:
    return list(dict.fromkeys(r for one in call.lines for r in reasons(asked, one)))


def _instant(at_ms: int) -> datetime:
    return datetime.fromtimestamp(at_ms / 1000, tz=UTC)
