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

SELDOM = ("hooks", "people", "audit", "password")


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


def start(asked: Asked) -> Answer:
    """The first page that this person may see."""
    return Moved(to="/due" if may(asked.visit.role, "/due") else "/sites")


def more(asked: Asked) -> Answer:
    """What is seldom wanted, each with a sentence."""
    entries = tuple(
        Entry(href=f"/{n}", words=asked.say(f"fleet.{n}"), what=asked.say(f"fleet.{n}-what"))
        for n in SELDOM
        if may(asked.visit.role, f"/{n}")
    )
    return Sheet(template="fleet/more.html", view=MoreView(entries=entries))


def password(asked: Asked) -> Answer:
    """The form for a new password."""
    return Sheet(
        template="fleet/password.html", view=PasswordView(login=asked.visit.who, code="")
    )


def keep_password(asked: Asked) -> Answer:
    """A new password for whoever is signed in; it ends all their sessions."""
    number = asked.visit.person_no
    person = None if number is None else people_rows.by_number(asked.connection, number)
    assert person is not None  # only who is signed in comes here
    found = kept(person.password)
    before = msgspec.json.decode(found.key, type=Key) if found.key else None
    if before is None or not fits(asked.fields.get("old", ""), before):
        raise ActRefused([("old", "wrong-password")])
    text = _new(asked, person.login)
    acts.keep_password(asked.connection, asked.doer, person.person_no, text)
    return Moved(to="/sign-in")


def invited(asked: Asked) -> Answer:
    """The form for somebody who was invited."""
    given = asked.typed or asked.query
    view = PasswordView(login=given.get("login", "")[:60], code=given.get("code", "")[:60])
    return Sheet(template="fleet/password.html", view=view)


def keep_invited(asked: Asked) -> Answer:
    """The first password of somebody who was invited, or a new one for who lost theirs."""
    login = acts.folded(asked.fields.get("login", ""))
    person = people_rows.by_login(asked.connection, login)
    found = kept(person.password) if person is not None else Kept()
    sound = opens(found, asked.fields.get("code", ""), asked.now_ms)
    if person is None or not person.may_sign_in or not sound:
        raise ActRefused([("code", "code")])
    text = _new(asked, login)
    doer = Doer(person_no=person.person_no, at_ms=asked.now_ms)
    acts.keep_password(asked.connection, doer, person.person_no, text)
    return Moved(to="/sign-in")


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
