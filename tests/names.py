"""Every name a person meets, in one table, from where each is defined: `python -m tests.names`
writes Markdown, `python -m tests.names --csv` CSV.

Made to be read through: is this a word of the trade or of an open standard, or one of our own?
"""

from __future__ import annotations

import csv
import sys
from collections.abc import Iterator
from typing import get_args

import click
import msgspec

from analytics.alarm import rules
from analytics.diagnosis.faults import FAULTS
from analytics.media import media
from analytics.remarks import CODES
from dashboards.acts.forms import forms
from dashboards.cli import main as command_line
from dashboards.commissioning.steps import STEPS
from dashboards.fleet.api.table import OPERATIONS
from dashboards.fleet.console import CONTENTS
from dashboards.fleet.roles import ROLES, WAYS
from dashboards.page import pages
from dashboards.paper.make import KINDS
from dashboards.phrases.language import FALLBACK, languages
from dashboards.state import GLASS
from firmware_bridge.config import registry
from firmware_bridge.config.box_tables import MeterTable, NotifierTable, Page, SinkTable, Store
from firmware_bridge.config.dated import DATED
from firmware_bridge.config.reading import fields_of, table_within
from firmware_bridge.config.tables import LineTable, SiteTable
from firmware_bridge.fleet import config as fleet
from firmware_bridge.forward.payloads import TOPICS

SITE_TABLES: dict[str, type[msgspec.Struct]] = {
    "site": SiteTable, "line": LineTable, "meter": MeterTable, "sink": SinkTable,
    "notifier": NotifierTable, "page": Page, "store": Store,
}  # fmt: skip
FLEET_TABLES: dict[str, type[msgspec.Struct]] = {
    "company": fleet.CompanyTable, "broker": fleet.BrokerTable, "sites": fleet.SitesTable,
    "records": fleet.RecordsTable, "series": fleet.SeriesTable, "page": fleet.FleetPage,
}  # fmt: skip


class Name(msgspec.Struct, frozen=True, kw_only=True):
    """A name: what sort it is, how it is written, and what it says in English."""

    sort: str
    name: str
    says: str


def names() -> Iterator[Name]:
    """Every name there is, sort by sort."""
    yield from of_command(command_line, "lastlitre")
    for heading, table in SITE_TABLES.items():
        yield from of_table("site file", heading, table)
    for family in get_args(registry.Family):
        for word in registry.known(family):
            yield from of_table("site file", f"{family} {word}", registry.options_of(family, word))
    for kind, (entry, _) in DATED.items():
        yield from of_table("dated entry", kind, entry)
    for heading, table in FLEET_TABLES.items():
        yield from of_table("fleet file", heading, table)
    yield from of_pages()
    yield from of_words()
    for kind, topic in TOPICS.items():
        yield Name(sort="topic", name=topic, says=f"Rows of the kind {kind}.")
    for operation in OPERATIONS:
        yield Name(sort="API", name=f"{operation.method} {operation.path}", says=operation.says)


def of_command(command: click.Command, called: str) -> Iterator[Name]:
    """A command, its options, and the commands within it."""
    yield Name(sort="command", name=called, says=command.get_short_help_str(200))
    for option in command.params:
        if isinstance(option, click.Option):
            words = ", ".join((*option.opts, *option.secondary_opts))
            yield Name(sort="option", name=f"{called} {words}", says=option.help or "")
    if isinstance(command, click.Group):
        context = click.Context(command)
        for name in command.list_commands(context):
            within = command.get_command(context, name)
            if within is not None:
                yield from of_command(within, f"{called} {name}")


def of_table(sort: str, heading: str, table: type[msgspec.Struct] | None) -> Iterator[Name]:
    """A table of a file with its keys, and the tables within it."""
    if table is None:
        return
    yield Name(sort=sort, name=f"[{heading}]", says=first_line(table))
    for field in fields_of(table):
        called = f"{heading}.{field.key}"
        yield Name(sort=sort, name=called, says=field.description)
        yield from of_table(sort, called, table_within(field.type))


def first_line(thing: object) -> str:
    """The first line of what a definition says of itself."""
    return (thing.__doc__ or "").strip().partition("\n")[0]


def of_pages() -> Iterator[Name]:
    """The pages of a site and of a fleet, forms, papers and the steps of fitting a line."""
    text = languages()[FALLBACK].texts
    for page in pages():
        yield Name(sort="page", name=page.path, says=text[page.title])
    for kind in forms():
        yield Name(sort="form", name=f"/act/{kind}", says=text[f"act.{kind}"])
    for step in STEPS:
        yield Name(sort="step", name=step, says=text[f"fit.step.{step}"])
    for kind in KINDS:
        yield Name(sort="paper", name=kind, says=text[f"paper.{kind}"])
    for way in WAYS:
        words = text.get(f"fleet.{way.path.removeprefix('/')}", "")
        chief = "fleet contents" if way.path.removeprefix("/") in CONTENTS else "fleet way"
        yield Name(sort=chief, name=f"{way.method} {way.path}", says=words)


def of_words() -> Iterator[Name]:
    """Media, states, alarms, faults, remarks and roles."""
    text = languages()[FALLBACK].texts
    for medium in media():
        yield Name(sort="medium", name=medium, says=text[f"medium.{medium}"])
    for state in dict.fromkeys(GLASS.values()):
        yield Name(sort="state", name=state, says=text[f"state.{state}"])
    for rule in rules():
        says = text[f"alarm.{rule.name}"]
        yield Name(sort="alarm", name=f"{rule.name} ({rule.priority})", says=says)
    for code, fault in FAULTS.items():
        says = text[f"alarm.fault-found.{code}"]
        yield Name(sort="fault", name=f"{code} ({fault.word})", says=says)
    for code in CODES:
        yield Name(sort="remark", name=code, says=text[f"remark.{code}"])
    for role in ROLES:
        yield Name(sort="role", name=role, says=text[f"people.role.{role}"])


def labels() -> Iterator[Name]:
    """Every short text of the pages: what stands on buttons, in margins, above fields."""
    for key, text in languages()[FALLBACK].texts.items():
        if len(text.split()) <= 3 and "{" not in text:
            yield Name(sort="label", name=key, says=text)


def main(words: list[str]) -> None:
    """Write the table."""
    every = [*names(), *labels()]
    if "--csv" in words:
        table = csv.writer(sys.stdout)
        table.writerows([Name.__struct_fields__, *map(msgspec.structs.astuple, every)])
        return
    click.echo(f"# {len(every)} names\n\n| sort | name | says |\n|---|---|---|")
    for name in every:
        click.echo(f"| {name.sort} | `{name.name}` | {name.says.replace('|', '/')} |")


if __name__ == "__main__":
    main(sys.argv[1:])
