"""`lastlitre fleet people`: who is let in, from the machine itself."""

from __future__ import annotations

import time
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple
from urllib.parse import urlencode

import click

from analytics.errors import ActRefused, LastLitreError

if TYPE_CHECKING:
    from firmware_bridge.fleet.config import FleetFile
    from firmware_bridge.fleet.records.engine import Records

ROLES = ("owner", "dispatcher", "technician", "customer")


class Wanted(NamedTuple):
    """What was said of a person beside the login."""

    name: str
    role: str | None
    customer: str


@click.command(name="people")
@click.argument("fleet_file", type=click.Path(path_type=Path))
@click.argument(
    "what",
    type=click.Choice(["list", "invite", "again", "role", "end", "erase"]),
    default="list",
    required=False,
)
@click.argument("login", required=False)
@click.option("--name", default="", help="What the person is called (default: the login).")
@click.option("--role", type=click.Choice(ROLES), help="What the person may do.")
@click.option("--customer", default="", help="Whose sites a person of the role customer sees.")
def people_command(
    fleet_file: Path, what: str, login: str | None, name: str, role: str | None, customer: str
) -> None:
    """Say who is let in to the pages of FLEET_FILE.

    list: everybody. invite LOGIN: let somebody in; prints a link that works once, for seven days,
    to choose a password by. again LOGIN: a new link. role LOGIN, end LOGIN, erase LOGIN: another
    role, no way in any more, the name gone for good. All of it is kept in the audit.
    """
    from firmware_bridge.fleet.config import load_fleet
    from firmware_bridge.fleet.records.engine import open_records

    file = load_fleet(fleet_file)
    with open_records(file.records_url, file.records_password) as records:
        if what == "list":
            _list(records, fleet_file)
            return
        if login is None:
            raise LastLitreError(f"Whom? {what} needs a login.", f"Such as: {what} ada")
        try:
            link = _act(records, file, what, login, Wanted(name, role, customer))
        except ActRefused as refused:
            raise LastLitreError(_sentences(refused)) from refused
    if link:
        click.echo(f"{login} chooses a password here, within seven days:\n{link}")
    else:
        click.echo(f"{login}: done.")


def _list(records: Records, fleet_file: Path) -> None:
    from firmware_bridge.fleet.records import people_rows

    with records.read() as connection:
        everybody = people_rows.everybody(connection)
    for person in everybody:
        state = "" if person.may_sign_in else " (erased)" if person.erased_ms else " (ended)"
        whose = f", {person.customer}" if person.customer else ""
        click.echo(f"{person.login}: {person.role}{whose}{state}")
    if not everybody:
        click.echo(f"Nobody. Next: lastlitre fleet people {fleet_file} invite LOGIN --role owner")


def _act(records: Records, file: FleetFile, what: str, login: str, wanted: Wanted) -> str:
    """Do it; the link where there is one to give on."""
    from firmware_bridge.fleet.people import acts
    from firmware_bridge.fleet.records import people_rows

    doer = acts.Doer(person_no=None, at_ms=time.time_ns() // 1_000_000)
    with records.begin() as connection:
        if what == "invite":
            invitee = acts.Invitee(
                login=login,
                name=wanted.name or login,
                role=wanted.role or "dispatcher",
                customer=wanted.customer,
                time_zone=file.time_zone,
            )
            return _link(file, login, acts.invite(connection, doer, invitee)[1])
        person = people_rows.by_login(connection, acts.folded(login))
        if person is None:
            raise LastLitreError(f"There is nobody called {login}.", "See: list")
        if what == "again":
            return _link(file, login, acts.invite_again(connection, doer, person.person_no))
        if what == "role":
            acts.change_role(connection, doer, person.person_no, wanted.role or "")
        elif what == "end":
            acts.end(connection, doer, person.person_no)
        else:
            acts.erase(connection, doer, person.person_no)
    return ""


def _link(file: FleetFile, login: str, code: str) -> str:
    from dashboards.fleet.serving import outside_address
    from firmware_bridge.fleet.people.acts import folded

    way = "https" if file.page.tls_cert else "http"
    address = outside_address(file.page, f"{way}://{file.page.host}:{file.page.port}")
    return f"{address}/invited?{urlencode({'login': folded(login), 'code': code})}"


def _sentences(refused: ActRefused) -> str:
    """The faults in the words of the pages."""
    from dashboards.phrases.language import FALLBACK, language

    texts = language(FALLBACK).texts
    return "\n".join(texts[f"fleet.fault.{code}"] for _, code in refused.faults)
