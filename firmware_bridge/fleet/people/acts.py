"""What is done about people, each act in the caller's transaction and with its row in the audit.

The rows name people by number; what they are called stands in their own row alone, so that it can
be erased.
"""

from __future__ import annotations

import unicodedata
import zoneinfo
from typing import Any

import msgspec
from sqlalchemy import Connection

from analytics.errors import ActRefused
from firmware_bridge.config.local_time import zone_of
from firmware_bridge.fleet.people.kept import invited, kept, new_code
from firmware_bridge.fleet.records import audit_rows, people_rows
from firmware_bridge.fleet.records.people_rows import ROLES, Person

LONGEST_NAME = 60
LONGEST_LOGIN = 40


class Doer(msgspec.Struct, frozen=True, kw_only=True):
    """Who does something, and when. `person_no` None: on the machine itself."""

    person_no: int | None
    at_ms: int

    def write(self, connection: Connection, act: str, about: str, **body: Any) -> None:
        """Keep the act in the audit."""
        audit_rows.write(
            connection,
            audit_rows.Act(
                at_ms=self.at_ms,
                person_no=self.person_no,
                act=act,
                about=about,
                body=msgspec.json.encode(body).decode(),
            ),
        )


class Invitee(msgspec.Struct, frozen=True, kw_only=True):
    """Somebody to be let in; a read-only customer has the customer's name."""

    login: str
    name: str
    role: str
    customer: str = ""
    time_zone: str = "UTC"


def folded(login: str) -> str:
    """One form for what looks alike: logins are kept and compared like this."""
    return unicodedata.normalize("NFKC", login).casefold().strip()


def invite(connection: Connection, doer: Doer, wanted: Invitee) -> tuple[int, str]:
    """Let somebody in: the number and the code to choose a password with, told only now.

    Raises ActRefused with every fault.
    """
    login = folded(wanted.login)
    faults = _faults(wanted, login)
    if not faults and people_rows.by_login(connection, login) is not None:
        faults.append(("login", "taken"))
    if faults:
        raise ActRefused(faults)
    code = new_code()
    customer_no = None
    if wanted.role == "customer":
        customer_no = people_rows.customer_named(connection, wanted.customer.strip())
    number = people_rows.add(
        connection,
        login=login,
        name=wanted.name.strip(),
        role=wanted.role,
        password=invited(kept(""), code, doer.at_ms).text(),
        customer_no=customer_no,
        time_zone=wanted.time_zone,
        made_ms=doer.at_ms,
    )
    doer.write(
        connection, "person.invited", about(number), role=wanted.role, customer_no=customer_no
    )
    return number, code


def invite_again(connection: Connection, doer: Doer, person_no: int) -> str:
    """A new code for somebody who lost password or code; the old password holds until then."""
    person = _active(connection, person_no)
    code = new_code()
    now = invited(kept(person.password), code, doer.at_ms)
    people_rows.change(connection, person_no, password=now.text())
    doer.write(connection, "person.invited-again", about(person_no))
    return code


def keep_password(connection: Connection, doer: Doer, person_no: int, kept_text: str) -> None:
    """A password was chosen: `kept_text` is what is kept of it. An invitation is used up."""
    people_rows.change(connection, person_no, password=kept_text)
    doer.write(connection, "person.password", about(person_no))


def change_role(connection: Connection, doer: Doer, person_no: int, role: str) -> None:
    """Another role within the service company.

    A customer's person stays one, and nobody becomes one: what they saw before would not be theirs.
    """
    person = _active(connection, person_no)
    if role not in ROLES or "customer" in (role, person.role):
        raise ActRefused([("role", "role")])
    if person.role == "owner" and role != "owner":
        _not_the_last_owner(connection)
    people_rows.change(connection, person_no, role=role)
    doer.write(connection, "person.role", about(person_no), role=role, before=person.role)


def end(connection: Connection, doer: Doer, person_no: int) -> None:
    """The person may not sign in any more; tokens end too."""
    person = _active(connection, person_no)
    if person.role == "owner":
        _not_the_last_owner(connection)
    people_rows.change(connection, person_no, ended_ms=doer.at_ms, password="")
    people_rows.revoke_tokens(connection, person_no, doer.at_ms)
    doer.write(connection, "person.ended", about(person_no))


def erase(connection: Connection, doer: Doer, person_no: int) -> None:
    """Name and login are gone for good; the audit goes on saying that somebody did what was done.

    Who may still sign in is ended by it.
    """
    person = people_rows.by_number(connection, person_no)
    if person is None or person.erased_ms is not None:
        raise ActRefused([("person", "nobody")])
    if person.ended_ms is None:
        end(connection, doer, person_no)
    people_rows.change(
        connection,
        person_no,
        login=f"erased {person_no}",
        name="",
        password="",
        time_zone="UTC",
        erased_ms=doer.at_ms,
    )
    doer.write(connection, "person.erased", about(person_no))


def about(person_no: int) -> str:
    """How an audit row names a person."""
    return f"person {person_no}"


def _active(connection: Connection, person_no: int) -> Person:
    person = people_rows.by_number(connection, person_no)
    if person is None or not person.may_sign_in:
        raise ActRefused([("person", "nobody")])
    return person


def _not_the_last_owner(connection: Connection) -> None:
    if people_rows.owners(connection) < 2:
        raise ActRefused([("person", "last-owner")])


def _faults(wanted: Invitee, login: str) -> list[tuple[str, str]]:
    faults = []
    if not _is_name(login, LONGEST_LOGIN) or login.startswith("erased "):
        faults.append(("login", "login"))
    if not _is_name(wanted.name.strip(), LONGEST_NAME):
        faults.append(("name", "name"))
    if wanted.role not in ROLES:
        faults.append(("role", "role"))
    if wanted.role == "customer" and not _is_name(wanted.customer.strip(), LONGEST_NAME):
        faults.append(("customer", "customer"))
    if not _is_zone(wanted.time_zone):
        faults.append(("time_zone", "time-zone"))
    return faults


def _is_name(text: str, longest: int) -> bool:
    return text.isprintable() and 0 < len(text) <= longest


def _is_zone(name: str) -> bool:
    try:
        zone_of(name)
    except (zoneinfo.ZoneInfoNotFoundError, ValueError, OSError):
        return False
    return True
