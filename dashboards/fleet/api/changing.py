"""What is changed: what people of the service company enter. Nothing here reaches a site."""

from __future__ import annotations

import datetime as dt

from dashboards.fleet.api.operation import Call
from dashboards.fleet.api.problems import Refusal, not_there
from dashboards.fleet.api.reading import site
from dashboards.fleet.api.words import Site, Visit
from firmware_bridge.fleet.records import listed, site_rows, stop_rows, visit_rows
from firmware_bridge.fleet.records.listed import page_of
from firmware_bridge.fleet.records.struct_rows import as_struct


def put_tags(call: Call) -> Site:
    """These tags and no others for a site."""
    before = site(call)
    wanted = tuple(dict.fromkeys(call.body.tags))
    site_rows.set_tags(call.connection, before.site_no, wanted)
    call.doer.write(call.connection, "site.tags", _about(before), tags=wanted, before=before.tags)
    return site(call)


def adopt(call: Call) -> Site:
    """Take a site in that nobody entered."""
    before = site(call)
    if before.state != "unknown":
        raise Refusal(409, f"This site is {before.state} already.")
    site_rows.set_state(call.connection, before.site_no, "adopted")
    call.doer.write(call.connection, "site.adopted", _about(before), before=before.state)
    return site(call)


def plan_visit(call: Call) -> Visit:
    """Plan one stop, at the end of its day."""
    body = call.body
    call.numbers["site_no"] = body.site_no
    where = site(call)
    _check_day(body.day)
    if where.state != "adopted":
        raise Refusal(409, f"This site is {where.state}: adopt it first.")
    if body.line and not stop_rows.has_line(call.connection, where.site_no, body.line):
        raise Refusal(409, "This site has no line of that name.")
    number = stop_rows.add(
        call.connection, where.site_no, body.line, body.day, body.note, call.bearer.person_no
    )
    call.doer.write(call.connection, "visit.planned", _about(where), visit=number, day=body.day)
    return _visit(call, number)


def settle_visit(call: Call) -> Visit:
    """Say how a stop went."""
    before = _visit(call, call.numbers["visit_no"])
    note = call.body.note or before.note
    visit_rows.settle(call.connection, before.visit_no, call.body.state, note)
    call.doer.write(
        call.connection,
        f"visit.{call.body.state}",
        f"site {before.site_no}",
        visit=before.visit_no,
        before=before.state,
    )
    return _visit(call, before.visit_no)


def _visit(call: Call, number: int) -> Visit:
    found = page_of(call.connection, listed.VISITS, call.sight, {"visit_no": number}, None, 1)
    if not found.rows:
        raise not_there()
    return as_struct(Visit, found.rows[0])


def _check_day(day: str) -> None:
    try:
        dt.date.fromisoformat(day)
    except ValueError as exc:
        raise Refusal(409, f"There is no day {day}.") from exc


def _about(where: Site) -> str:
    return f"site {where.site_no}"
