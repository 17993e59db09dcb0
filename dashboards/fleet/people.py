"""The page People: who is let in, with which role; ended and erased."""

from __future__ import annotations

from urllib.parse import urlencode

import msgspec

from dashboards.fleet.asked import Answer, Answers, Asked, Moved, Sheet
from dashboards.fleet.roles import CUSTOMER, ROLES
from firmware_bridge.fleet.people import acts
from firmware_bridge.fleet.people.acts import Invitee
from firmware_bridge.fleet.people.kept import INVITED_FOR_MS, kept
from firmware_bridge.fleet.records import people_rows
from firmware_bridge.fleet.records.people_rows import Person

OFFERED = ("dispatcher", "technician", CUSTOMER, "owner")
"""Roles in the order they are offered; the one that may do everything comes last."""


class ListedPerson(msgspec.Struct, frozen=True, kw_only=True):
    """One person of the list; `roles` are those that may be given instead."""

    number: int
    name: str
    login: str
    role: str
    role_words: str
    state: str
    active: bool
    erased: bool
    roles: tuple[tuple[str, str], ...]


class PeopleView(msgspec.Struct, frozen=True, kw_only=True):
    """The whole page; `link` is told once, to whoever invites."""

    people: tuple[ListedPerson, ...]
    roles: tuple[tuple[str, str], ...]
    customers: tuple[str, ...]
    typed: dict[str, str]
    link: str
    invited: str


def page(asked: Asked) -> Answer:
    """Everybody."""
    return _page(asked)


def invite(asked: Asked) -> Answer:
    """Let somebody in; the link to choose a password by is shown now and never again."""
    fields = asked.fields
    wanted = Invitee(
        login=fields.get("login", ""),
        name=fields.get("name", ""),
        role=fields.get("role", ""),
        customer=fields.get("customer", ""),
        time_zone=asked.house.time_zone,
    )
    _, code = acts.invite(asked.connection, asked.doer, wanted)
    return _page(asked, link=_link(asked, wanted.login, code), invited=wanted.name)


def invite_again(asked: Asked) -> Answer:
    """A new link for somebody."""
    number = asked.numbers["person_no"]
    code = acts.invite_again(asked.connection, asked.doer, number)
    person = people_rows.by_number(asked.connection, number)
    assert person is not None  # the act would have been refused
    return _page(asked, link=_link(asked, person.login, code), invited=person.name)


def give_role(asked: Asked) -> Answer:
    """Another role."""
    role = asked.fields.get("role", "")
    acts.change_role(asked.connection, asked.doer, asked.numbers["person_no"], role)
    return Moved(to="/people")


def end(asked: Asked) -> Answer:
    """The person may not sign in any more."""
    acts.end(asked.connection, asked.doer, asked.numbers["person_no"])
    return Moved(to="/people")


def erase(asked: Asked) -> Answer:
    """Name and login are gone for good."""
    acts.erase(asked.connection, asked.doer, asked.numbers["person_no"])
    return Moved(to="/people")


def _page(asked: Asked, link: str = "", invited: str = "") -> Answer:
    everybody = people_rows.everybody(asked.connection)
    view = PeopleView(
        people=tuple(_listed(asked, person) for person in everybody),
        roles=_roles(asked, OFFERED),
        customers=tuple(c.name for c in people_rows.all_customers(asked.connection)),
        typed={n: asked.typed.get(n, "") for n in ("login", "name", "role", "customer")},
        link=link,
        invited=invited,
    )
    return Sheet(template="fleet/people.html", view=view)


def _roles(asked: Asked, roles: tuple[str, ...]) -> tuple[tuple[str, str], ...]:
    return tuple((role, asked.say(f"people.role.{role}")) for role in roles)


def _link(asked: Asked, login: str, code: str) -> str:
    query = urlencode({"login": acts.folded(login), "code": code})
    return f"{asked.house.address}/invited?{query}"


def _listed(asked: Asked, person: Person) -> ListedPerson:
    role = asked.say(f"people.role.{person.role}")
    staff = person.role != CUSTOMER
    others = tuple(r for r in ROLES if staff and r not in (CUSTOMER, person.role))
    return ListedPerson(
        number=person.person_no,
        name=person.name or asked.say("people.erased"),
        login="" if person.erased_ms else person.login,
        role=person.role,
        role_words=f"{role}, {person.customer}" if person.customer else role,
        state=_state(asked, person),
        active=person.may_sign_in,
        erased=person.erased_ms is not None,
        roles=_roles(asked, others),
    )


def _state(asked: Asked, person: Person) -> str:
    when = asked.when
    if person.erased_ms is not None:
        return ""
    if person.ended_ms is not None:
        return asked.say("people.ended", day=when.short(when.day(person.ended_ms)))
    found = kept(person.password)
    if not found.key:
        if asked.now_ms >= found.until_ms:
            return asked.say("people.invitation-over")
        begun = found.until_ms - INVITED_FOR_MS
        return asked.say("people.invited", day=when.short(when.day(begun)))
    return asked.say("people.since", day=when.short(when.day(person.made_ms)))


ANSWERS: Answers = {
    ("GET", "/people"): page,
    ("POST", "/people"): invite,
    ("POST", "/people/{person_no:int}/role"): give_role,
    ("POST", "/people/{person_no:int}/code"): invite_again,
    ("POST", "/people/{person_no:int}/end"): end,
    ("POST", "/people/{person_no:int}/erase"): erase,
}
AGAIN = {path: "/people" for method, path in ANSWERS if method == "POST"}
