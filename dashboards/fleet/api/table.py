"""What can be asked: the one table of the JSON API. Routes, rights, description follow it."""

from __future__ import annotations

from typing import Any

from dashboards.fleet.api import changing, joining, reading, work
from dashboards.fleet.api import questions as q
from dashboards.fleet.api import words as w
from dashboards.fleet.api.operation import ROOT, Operation
from dashboards.fleet.roles import ANYBODY, OFFICE, STAFF
from firmware_bridge.fleet.identity.words import JOIN_PATH, Claim, Joined

WHOLE_FLEET = 20.0
"""What thinks over every line of the fleet counts for so many plain questions."""
SITE = f"{ROOT}/sites/{{site_no:int}}"


def _read(path: str, says: str, answer: Any, do: Any, **more: Any) -> Operation:
    return Operation(
        method="GET", path=path, name=do.__name__, says=says, answer=answer, do=do, **more
    )


def _change(method: str, path: str, says: str, answer: Any, do: Any, **more: Any) -> Operation:
    return Operation(
        method=method, path=path, name=do.__name__, says=says, answer=answer, do=do, **more
    )


OPERATIONS: tuple[Operation, ...] = (
    _read(f"{ROOT}/me", "Whom the token speaks for.", w.Me, reading.me),
    _read(f"{ROOT}/sites", "Sites by number.", w.Page[w.Site], reading.sites, query=q.SitesAsked),
    _read(SITE, "One site.", w.Site, reading.site),
    _read(
        f"{SITE}/rows",
        "Rows of one kind and line of a site within a span.",
        w.Page[w.Row],
        reading.rows,
        query=q.RowsAsked,
    ),
    _read(
        f"{SITE}/events",
        "What people did at a site.",
        w.Page[w.Event],
        reading.events,
        query=q.EventsAsked,
    ),
    _read(
        f"{ROOT}/lines",
        "Lines as they stand: litres and days left, with range.",
        w.Page[w.Line],
        reading.lines,
        query=q.LinesAsked,
    ),
    _read(
        f"{ROOT}/due",
        "Lines that may ask for a visit, the gravest first.",
        w.Page[w.Due],
        work.due,
        query=q.DueAsked,
        who=STAFF,
        weight=WHOLE_FLEET,
    ),
    _read(
        f"{ROOT}/parts",
        "Cartridges that the next weeks take.",
        w.Parts,
        work.parts,
        query=q.PartsAsked,
        who=STAFF,
        weight=WHOLE_FLEET,
    ),
    _read(
        f"{ROOT}/priors",
        "What cartridges of a kind really deliver, learnt from the fleet.",
        w.Priors,
        work.priors,
        who=STAFF,
        weight=WHOLE_FLEET,
    ),
    _read(
        f"{ROOT}/alarms",
        "Alarms that are not normal now.",
        w.Page[w.Alarm],
        reading.alarms,
        query=q.AlarmsAsked,
    ),
    _read(
        f"{ROOT}/cartridges",
        "Cartridges that serve or served, and what they delivered.",
        w.Page[w.Cartridge],
        reading.cartridges,
        query=q.CartridgesAsked,
    ),
    _read(
        f"{ROOT}/doubts",
        "Data that contradict themselves or each other.",
        w.Page[w.Doubt],
        reading.doubts,
        query=q.DoubtsAsked,
        who=STAFF,
    ),
    _read(
        f"{ROOT}/visits",
        "Stops of rounds.",
        w.Page[w.Visit],
        reading.visits,
        query=q.VisitsAsked,
        who=STAFF,
    ),
    _change(
        "PUT",
        f"{SITE}/tags",
        "Give a site these tags and no others.",
        w.Site,
        changing.put_tags,
        body=q.Tags,
        who=OFFICE,
    ),
    _change(
        "POST",
        f"{SITE}/adopt",
        "Take in a site that nobody entered, or one that was retired.",
        w.Site,
        changing.adopt,
        who=OFFICE,
    ),
    _change(
        "POST",
        f"{ROOT}/visits",
        "Plan a stop, at the end of its day.",
        w.Visit,
        changing.plan_visit,
        body=q.NewVisit,
        who=OFFICE,
        status=201,
    ),
    _change(
        "PATCH",
        f"{ROOT}/visits/{{visit_no:int}}",
        "Say how a stop went.",
        w.Visit,
        changing.settle_visit,
        body=q.VisitChange,
        who=STAFF,
    ),
)


JOIN = Operation(
    method="POST",
    path=JOIN_PATH,
    name="join",
    says="A site joins by the code it was given; the same box may ask again for a while.",
    answer=Joined,
    do=joining.join,
    body=Claim,
    who=ANYBODY,
    needs_token=False,
)
EVERY = (*OPERATIONS, JOIN)


def forms() -> list[Any]:
    """Every struct that goes over the wire."""
    found: list[Any] = [w.Problem]
    for operation in EVERY:
        wanted = (operation.answer, operation.body, operation.query)
        found += [form for form in wanted if form is not None and form not in found]
    return found
