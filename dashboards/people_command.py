"""`lastlitre people`: who may sign in."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from analytics.errors import LastLitreError

LONGEST_LINE = 4096


@click.command(name="people")
@click.argument("site_file", type=click.Path(path_type=Path))
@click.argument(
    "what", type=click.Choice(["list", "add", "password", "remove"]), default="list", required=False
)
@click.argument("name", required=False)
def people_command(site_file: Path, what: str, name: str | None) -> None:
    """Say who may sign in to the pages of SITE_FILE.

    list: everybody. add NAME, password NAME: a new person, a new password; it is asked for, or
    taken from the first line of standard input. remove NAME: take a person off the list. A new
    password signs the person out everywhere; all of it holds at once.
    """
    from dashboards.access.people import people_of
    from firmware_bridge import config

    people = people_of(config.load(site_file))
    if what == "list":
        for person in people.all():
            click.echo(person.name)
        if not people.all():
            click.echo(f"Nobody. Next: lastlitre people {site_file} add NAME")
        return
    if name is None:
        raise LastLitreError(f"Whom? {what} needs a name.", f"Such as: {what} Ada")
    if what == "remove":
        click.echo(f"{people.remove(name).name} can no longer sign in.")
        return
    person = (people.add if what == "add" else people.change)(name, _password())
    click.echo(f"{person.name} can sign in.")


def _password() -> str:
    """The password, without showing it."""
    if sys.stdin.isatty():
        typed: str = click.prompt("Password", hide_input=True, confirmation_prompt=True)
        return typed
    line = sys.stdin.readline(LONGEST_LINE).rstrip("\r\n")
    if not line:
        raise LastLitreError("No password was given.", "Type it, or send it on one line.")
    return line
