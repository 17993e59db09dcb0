"""`lastlitre fleet priors`: what the fleet's cartridges teach of the next one."""

from __future__ import annotations

from pathlib import Path

import click

from analytics.errors import LastLitreError
from firmware_bridge.fleet.config import load_fleet
from firmware_bridge.fleet.priors import (
    Prior,
    Taught,
    as_csv,
    as_json,
    learnt_from,
    site_file_lines,
)
from firmware_bridge.fleet.records.engine import open_records


@click.command()
@click.argument("fleet_file", type=click.Path(path_type=Path))
@click.option(
    "--form",
    type=click.Choice(["text", "csv", "json"]),
    default="text",
    help="How the table is written.",
)
@click.option("--medium", help="With --size: the lines for a new site's file, ready to paste.")
@click.option("--size", default="", help="Of the cartridge, as the sites call it.")
@click.option("--region", default="", help="Raw-water region; left out, one that is new.")
def priors_command(fleet_file: Path, form: str, medium: str | None, size: str, region: str) -> None:
    """Show what cartridges of each kind really deliver, by raw-water region.

    The fleet sends nothing to a site: put the lines into the new site's file.
    """
    file = load_fleet(fleet_file)
    with open_records(file.records_url, file.records_password) as records:
        taught = learnt_from(records)
    if medium is not None:
        click.echo(site_file_lines(chosen(taught, medium, size, region)), nl=False)
    elif form == "text":
        click.echo(_text(taught))
    else:
        click.echo(as_csv(taught) if form == "csv" else as_json(taught).decode(), nl=False)


def chosen(taught: Taught, medium: str, size: str, region: str) -> Prior:
    """The prior for a cartridge in a region; in any new one where nobody has served there.

    Raises LastLitreError where no cartridge of the kind has ended yet.
    """
    of_kind = [p for p in taught.priors if (p.medium, p.size) == (medium, size)]
    for prior in of_kind:
        if prior.region == region:
            return prior
    for prior in of_kind:
        if prior.region == "":
            return prior
    kinds = sorted({f"--medium {p.medium} --size {p.size!r}" for p in taught.priors})
    raise LastLitreError(
        f"No {medium} cartridge of size {size!r} has told anything yet.",
        f"There are: {', '.join(kinds)}." if kinds else "State the rated capacity.",
    )


def _text(taught: Taught) -> str:
    head = ("medium", "size", "region", "of its rating", "5-95 %", "ended", "early")
    rows = [head, *(_cells(prior) for prior in taught.priors)]
    widths = [max(len(row[i]) for row in rows) for i in range(len(head))]
    table = [
        "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip()
        for row in rows
    ]
    told = f"{taught.cartridges} cartridges tell something, {taught.left_out} nothing."
    return "\n".join([*table, told])


def _cells(prior: Prior) -> tuple[str, ...]:
    share = prior.learnt.share
    return (
        prior.medium,
        prior.size or "-",
        prior.region or "(a new one)",
        f"{100.0 * share.p50:.0f} %",
        f"{100.0 * share.p05:.0f}-{100.0 * share.p95:.0f} %",
        str(prior.learnt.ended),
        str(prior.learnt.taken_early),
    )
