"""Pages about oneself: where to begin, what else there is, the password, an invitation."""

from __future__ import annotations

import msgspec

from analytics.errors import ActRefused, LastLitreError
from dashboards.access.passwords import Key, check_new, fits, key_of
from dashboards.fleet.asked import Answer, Answers, Asked, Moved, Sheet
from dashboards.fleet.roles import may
from dashboards.fleet.within import Link
from firmware_bridge.fleet.people import acts
from firmware_bridge.fleet.people.acts import Doer
from firmware_bridge.fleet.people.kept import Kept, kept, opens
from firmware_bridge.fleet.records import people_rows

SELDOM = {
    "/learnt": "fleet.learnt",
    "/hooks": "fleet.hooks",
    "/tokens": "fleet.tokens",
    "/people": "fleet.people",
    "/audit": "fleet.audit",
    "/guide/wiring": "wiring.title",
    "/guide": "fleet.guide",
    "/password": "fleet.password",
}
"""What More leads to, each with the key of its title; `<key>-what` says what it is for."""


class Entry(Link, frozen=True, kw_only=True):
    """A page that is seldom wanted, with what it is for."""

    what: str


class MoreView(msgspec.Struct, frozen=True, kw_only=True):
    """What else there is."""

    entries: tuple[Entry, ...]


class PasswordView(msgspec.Struct, frozen=True, kw_only=True):
    """A password is to be chosen: by whom, and by which code where it is an invitation."""

    login: str
    code: str


class Chosen(msgspec.Struct, frozen=True, kw_only=True):
    """A password that was chosen: whose, what was kept of the old one, what will be of the new."""

    person_no: int
    before: str
    text: str


def start(asked: Asked) -> Answer:
    """The first page that this person may see."""
    return Moved(to="/due" if may(asked.visit.role, "/due") else "/sites")


def more(asked: Asked) -> Answer:
    """What is seldom wanted, each with a sentence."""
    entries = tuple(
        Entry(href=path, words=asked.say(key), what=asked.say(f"{key}-what"))
        for path, key in SELDOM.items()
        if may(asked.visit.role, path)
    )
    return Sheet(template="fleet/more.html", view=MoreView(entries=entries))


def password(asked: Asked) -> Answer:
    """The form for a new password."""
    return Sheet(template="fleet/password.html", view=PasswordView(login=asked.visit.who, code=""))


def new_password(asked: Asked) -> Chosen:
    """A new password for whoever is signed in and knows the old one. Raises ActRefused."""
    person = _myself(asked)
    key = kept(person.password).key
    right = bool(key) and fits(asked.fields.get("old", ""), msgspec.json.decode(key, type=Key))
    if not right:
        raise ActRefused([("old", "wrong-password")])
    return Chosen(
        person_no=person.person_no, before=person.password, text=_new(asked, person.login)
    )


def keep_password(asked: Asked) -> Answer:
    """Keep it; it ends all sessions of the person."""
    return _keep(asked)


def invited(asked: Asked) -> Answer:
    """The form for somebody who was invited."""
    given = asked.typed or asked.query
    view = PasswordView(login=given.get("login", "")[:60], code=given.get("code", "")[:60])
    return Sheet(template="fleet/password.html", view=view)


def first_password(asked: Asked) -> Chosen:
    """The password of somebody who was invited, or lost theirs. Raises ActRefused; also where it
    came over a network in clear."""
    if asked.visit.closed:
        raise ActRefused([("code", "in-clear")])
    login = acts.folded(asked.fields.get("login", ""))
    person = people_rows.by_login(asked.connection, login)
    found = kept(person.password) if person is not None else Kept()
    sound = opens(found, asked.fields.get("code", ""), asked.now_ms)
    if person is None or not person.may_sign_in or not sound:
        raise ActRefused([("code", "code")])
    return Chosen(person_no=person.person_no, before=person.password, text=_new(asked, login))


def keep_invited(asked: Asked) -> Answer:
    """Keep it; the invitation is used up."""
    return _keep(asked)


def _keep(asked: Asked) -> Answer:
    """Keep the password, unless another was kept in the meantime: a code works once."""
    chosen: Chosen = asked.ready
    person = people_rows.by_number(asked.connection, chosen.person_no)
    if person is None or not person.may_sign_in or person.password != chosen.before:
        raise ActRefused([("code", "code")])
    doer = Doer(person_no=chosen.person_no, at_ms=asked.now_ms)
    acts.keep_password(asked.connection, doer, chosen.person_no, chosen.text)
    return Moved(to="/sign-in")


def _myself(asked: Asked) -> people_rows.Person:
    number = asked.visit.person_no
    person = None if number is None else people_rows.by_number(asked.connection, number)
    if person is None:
        raise ActRefused([("person", "nobody")])
    return person


def _new(asked: Asked, login: str) -> str:
    """What is kept of the password that was typed. Raises ActRefused."""
    new = asked.fields.get("new", "")
    try:
        check_new(new, login)
    except LastLitreError as exc:
        raise ActRefused([("new", "new-password")]) from exc
    return Kept(key=msgspec.json.encode(key_of(new)).decode()).text()


ANSWERS: Answers = {
    ("GET", "/"): start,
    ("GET", "/more"): more,
    ("GET", "/password"): password,
    ("POST", "/password"): keep_password,
    ("GET", "/invited"): invited,
    ("POST", "/invited"): keep_invited,
}
AGAIN = {"/password": "/password", "/invited": "/invited"}
PREPARED = {"/password": new_password, "/invited": first_password}
